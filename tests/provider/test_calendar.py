"""The calendar by month, and closing on the public holidays of the place."""

from datetime import date, time, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, PeriodLocked
from provider.models import Closure, OpeningHours, Provider, Role
from provider.periods import DateSpan
from provider.selectors.calendar import calendar_month, holiday_rows
from provider.services.holidays import close_on_holidays
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
NOON = "2026-03-16T17:00:00Z"
LABOUR_DAY, THANKSGIVING = date(2026, 9, 7), date(2026, 11, 26)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider(region="WI")


@pytest.fixture
def owner(provider: Provider) -> Client:
    client = Client()
    client.force_login(make.make_member(provider))
    return client


def _close(provider: Provider, *days: date, paid: bool = True, **changes: Any) -> list[Closure]:
    given = {"provider": provider, "actor": None, "today": TODAY, "year": 2026, "days": days, "paid": paid, **changes}
    return close_on_holidays(**given)


def _month(provider: Provider, year: int = 2026, month: int = 9):
    days = calendar_month(provider, DateSpan.month(year, month), TODAY)
    return {each.day: each for each in days}


# Months


def test_it_shows_whole_weeks_around_a_month(provider: Provider) -> None:
    days = _month(provider)

    assert (min(days), max(days)) == (date(2026, 8, 31), date(2026, 10, 4))
    assert not days[date(2026, 8, 31)].in_month


def test_it_shows_the_opening_hours_of_each_day(provider: Provider) -> None:
    OpeningHours.objects.filter(weekday=1).update(end=date(2026, 9, 8))
    OpeningHours.objects.create(provider=provider, weekday=1, opens=time(9), closes=time(15), start=date(2026, 9, 8))

    days = _month(provider)

    assert days[date(2026, 9, 1)].opening.opens == time(7, 30)
    assert days[date(2026, 9, 8)].opening.opens == time(9)
    assert days[date(2026, 9, 6)].opening is None


def test_it_shows_holidays_closures_and_themes(provider: Provider) -> None:
    make.make_run(provider, start=date(2026, 8, 15), end=date(2026, 9, 15))
    Closure.objects.create(
        provider=provider, start=date(2026, 9, 10), end=date(2026, 9, 12), kind="time_off", reason="Away"
    )

    days = _month(provider)

    assert days[LABOUR_DAY].holidays == ("Labor Day",)
    assert [days[date(2026, 9, n)].closure is not None for n in (9, 10, 11, 12)] == [False, True, True, False]
    assert [entry.kind for entry in days[date(2026, 9, 1)].entries] == ["theme"]
    assert [entry.kind for entry in days[date(2026, 9, 2)].entries] == []


def test_it_shows_february_of_a_leap_year(provider: Provider) -> None:
    assert _month(provider, 2028, 2)[date(2028, 2, 29)].in_month


@pytest.mark.parametrize("closures", [1, 12])
def test_it_asks_as_often_for_many_closures_as_for_one(
    provider: Provider, closures: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(closures):
        day = date(2026, 9, 1) + timedelta(days=2 * number)
        Closure.objects.create(
            provider=provider, start=day, end=day + timedelta(days=1), kind="other", reason=f"Closed {number}"
        )

    with django_assert_max_num_queries(12):
        _month(provider)


@time_machine.travel(NOON)
def test_it_shows_a_helper_the_calendar_but_no_way_to_change_it(provider: Provider) -> None:
    helper = Client()
    helper.force_login(make.make_member(provider, Role.HELPER))

    page = helper.get(reverse("provider:calendar", args=[provider.slug])).content.decode()

    assert "March 2026" in page
    assert reverse("provider:closure_add", args=[provider.slug]) not in page


@pytest.mark.parametrize("page", [(1999, 12), (2101, 1), (2026, 13), (0, 1)])
def test_it_has_no_page_for_other_years_and_months(owner: Client, provider: Provider, page: tuple[int, int]) -> None:
    assert owner.get(reverse("provider:calendar_month", args=[provider.slug, *page])).status_code == 404


# Holidays


def test_it_knows_the_holidays_of_a_province() -> None:
    ontario = make.make_provider(country="CA", region="ON")

    names = {row.holiday.name for row in holiday_rows(ontario, 2026) or ()}

    assert {"Canada Day", "Family Day"} <= names


@pytest.mark.parametrize("region", ["", "ZZ", "O N"])
def test_it_knows_only_what_is_known_of_a_place(region: str) -> None:
    rows = holiday_rows(make.make_provider(country="CA", region=region), 2026)

    assert (rows is None) == (region != "")


def test_it_says_which_holidays_fall_on_open_days(provider: Provider) -> None:
    rows = {row.holiday.day: row for row in holiday_rows(provider, 2026) or ()}

    assert rows[LABOUR_DAY].is_open
    assert not rows[date(2026, 7, 4)].is_open  # a Saturday


def test_it_closes_on_many_holidays_at_once(provider: Provider) -> None:
    made = _close(provider, LABOUR_DAY, THANKSGIVING, paid=False)

    assert [(row.start, row.kind, row.paid) for row in made] == [
        (LABOUR_DAY, "holiday", False),
        (THANKSGIVING, "holiday", False),
    ]
    assert made[1].reason == "Thanksgiving Day"


def test_it_leaves_days_that_are_closed_already(provider: Provider) -> None:
    Closure.objects.create(
        provider=provider, start=date(2026, 9, 1), end=date(2026, 9, 12), kind="time_off", reason="Away"
    )

    assert [row.start for row in _close(provider, LABOUR_DAY, THANKSGIVING)] == [THANKSGIVING]


def test_it_closes_once_for_two_clicks(provider: Provider) -> None:
    _close(provider, LABOUR_DAY, submission_key="k")

    assert _close(provider, THANKSGIVING, submission_key="k") == []
    assert Closure.objects.count() == 1


@pytest.mark.parametrize("days", [(), (date(2026, 9, 8),), (LABOUR_DAY, date(2025, 12, 25))])
def test_it_closes_on_no_day_that_is_no_holiday_of_the_year(provider: Provider, days: tuple[date, ...]) -> None:
    with pytest.raises(DomainError) as refusal:
        _close(provider, *days)

    assert refusal.value.field == "days"
    assert not Closure.objects.exists()


def test_it_closes_on_none_when_one_lies_in_a_closed_year(provider: Provider) -> None:
    make.lock_year(provider, 2026)

    with pytest.raises(PeriodLocked):
        _close(provider, LABOUR_DAY)


@time_machine.travel(NOON)
def test_it_ticks_the_holidays_on_which_the_house_would_be_open(owner: Client, provider: Provider) -> None:
    page = owner.get(reverse("provider:holidays", args=[provider.slug, 2026]))

    assert LABOUR_DAY.isoformat() in page.context["ticked"]
    assert "2026-07-04" not in page.context["ticked"]


@time_machine.travel(NOON)
@pytest.mark.parametrize(("button", "paid"), [("paid_day", True), ("unpaid_day", False)])
def test_it_closes_on_one_holiday_with_one_tap(owner: Client, provider: Provider, button: str, paid: bool) -> None:
    address = reverse("provider:holidays", args=[provider.slug, 2026])

    owner.post(address, {"days": [THANKSGIVING.isoformat()], "paid": "yes", button: LABOUR_DAY.isoformat()})

    row = Closure.objects.get()
    assert (row.start, row.paid) == (LABOUR_DAY, paid)


@time_machine.travel(NOON)
def test_it_closes_on_the_ticked_holidays(owner: Client, provider: Provider) -> None:
    address = reverse("provider:holidays", args=[provider.slug, 2026])
    days = [LABOUR_DAY.isoformat(), THANKSGIVING.isoformat()]

    response = owner.post(address, {"days": days, "paid": "no"})

    assert response.status_code == 302
    assert list(Closure.objects.order_by("start").values_list("start", "paid")) == [
        (LABOUR_DAY, False),
        (THANKSGIVING, False),
    ]


@time_machine.travel(NOON)
@pytest.mark.parametrize("given", [{}, {"days": ["2026-09-08"]}, {"days": ["nonsense"]}, {"paid_day": "2026-13-01"}])
def test_it_says_what_is_wrong_with_the_ticks(owner: Client, provider: Provider, given: dict[str, Any]) -> None:
    response = owner.post(reverse("provider:holidays", args=[provider.slug, 2026]), {"paid": "yes", **given})

    assert response.status_code == 422
    assert not Closure.objects.exists()


@time_machine.travel(NOON)
def test_it_helps_a_business_whose_place_is_not_known() -> None:
    provider = make.make_provider(region="ZZ")
    client = Client()
    client.force_login(make.make_member(provider))

    page = client.get(reverse("provider:holidays", args=[provider.slug, 2026])).content.decode()

    assert "No holidays are known for your place" in page
