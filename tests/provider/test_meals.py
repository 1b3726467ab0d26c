from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, ForeignRow, PeriodLocked
from provider.models import AuditEntry, Child, MealKind, MealServed, Provider, Role
from provider.periods import DateSpan
from provider.selectors.meals import eaters, meal_month, meals_of_day
from provider.services import meals
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
NOON = datetime(2026, 3, 16, 17, 0, tzinfo=UTC)  # 12:00 in Chicago
LUNCH, SNACK = MealKind.LUNCH, MealKind.AFTERNOON_SNACK


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _child(provider: Provider, name: str = "Ilse", here: bool = True, **fields: Any) -> Child:
    child = make.make_child(make.make_household(provider), name=name, **fields)
    make.make_enrolment(child)
    if here:
        make.make_attendance(child, TODAY, leaves=None)
    return child


def _record(provider: Provider, **given: Any) -> list[MealServed]:
    return meals.record_meal(
        **{"provider": provider, "actor": None, "today": TODAY, "day": TODAY, "kind": LUNCH, **given}
    )


def _names(rows: list[MealServed]) -> list[str]:
    return sorted(row.child.name for row in rows)


def test_it_records_who_ate(provider: Provider) -> None:
    children = [_child(provider, name) for name in ("Ilse", "Bo")]

    assert _names(_record(provider, add=children)) == ["Bo", "Ilse"]


def test_it_records_a_meal_once_for_two_taps(provider: Provider) -> None:
    child = _child(provider)

    for _tap in range(2):
        _record(provider, add=[child], submission_key="one")
    _record(provider, add=[child])

    assert MealServed.objects.count() == 1


def test_it_takes_a_child_out_without_touching_the_others(provider: Provider) -> None:
    ilse, bo = _child(provider, "Ilse"), _child(provider, "Bo")
    _record(provider, add=[ilse, bo])

    assert _names(_record(provider, remove=[ilse])) == ["Bo"]
    assert MealServed.objects.get(child=ilse).voided_at is not None


def test_it_lets_a_child_who_was_taken_out_eat_after_all(provider: Provider) -> None:
    child = _child(provider)
    _record(provider, add=[child])
    _record(provider, remove=[child])

    assert _names(_record(provider, add=[child])) == ["Ilse"]


def test_it_keeps_what_another_tablet_recorded_meanwhile(provider: Provider) -> None:
    ilse, bo = _child(provider, "Ilse"), _child(provider, "Bo")
    _record(provider, add=[bo])

    assert _names(_record(provider, add=[ilse], remove=[])) == ["Bo", "Ilse"]


def test_it_refuses_a_child_who_was_not_signed_in(provider: Provider) -> None:
    with pytest.raises(DomainError) as refusal:
        _record(provider, add=[_child(provider, here=False)])

    assert refusal.value.field == "children"


def test_it_lets_an_own_child_eat_without_signing_in(provider: Provider) -> None:
    own = _child(provider, here=False, is_own_child=True)

    assert _names(_record(provider, add=[own])) == ["Ilse"]


def test_it_refuses_a_day_to_come(provider: Provider) -> None:
    with pytest.raises(DomainError):
        _record(provider, day=date(2026, 3, 17), add=[_child(provider)])


def test_it_refuses_a_closed_year(provider: Provider) -> None:
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        _record(provider, day=date(2025, 6, 2), add=[_child(provider)])


def test_it_refuses_a_child_of_another_business(provider: Provider) -> None:
    stranger = _child(make.make_provider(), is_own_child=True)

    with pytest.raises(ForeignRow):
        _record(provider, add=[stranger])


def test_it_adds_all_meals_of_a_day_in_few_queries(
    provider: Provider, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    children = [_child(provider, f"Child {n}") for n in range(6)]

    with django_assert_max_num_queries(11):
        added = meals.record_meals_of_day(
            provider=provider, actor=None, today=TODAY, day=TODAY, meals={LUNCH: children, SNACK: children[:2]}
        )

    assert (len(added), AuditEntry.objects.count()) == (8, 1)


def test_it_adds_only_what_is_missing_of_a_day(provider: Provider) -> None:
    child = _child(provider)
    _record(provider, add=[child])

    added = meals.record_meals_of_day(
        provider=provider, actor=None, today=TODAY, day=TODAY, meals={LUNCH: [child], SNACK: [child]}
    )

    assert [row.kind for row in added] == [SNACK]


def test_it_proposes_who_is_here_now(provider: Provider) -> None:
    _child(provider, "Here")
    gone = _child(provider, "Gone", here=False)
    make.make_attendance(gone, TODAY, leaves=11)
    _child(provider, "Not come", here=False)

    found = eaters(provider, TODAY, LUNCH, TODAY)

    assert [(each.child.name, each.proposed) for each in found] == [("Gone", False), ("Here", True)]


def test_it_proposes_who_came_on_a_day_that_is_over(provider: Provider) -> None:
    make.make_attendance(_child(provider, here=False), TODAY)

    assert [each.proposed for each in eaters(provider, TODAY, LUNCH, date(2026, 3, 17))] == [True]


def test_it_proposes_nobody_anew_once_the_meal_is_recorded(provider: Provider) -> None:
    ate, late = _child(provider, "Ate"), _child(provider, "Late")
    _record(provider, add=[ate])

    assert [each.proposed for each in eaters(provider, TODAY, LUNCH, TODAY)] == [True, False]
    assert late.meals.count() == 0


def test_its_selectors_ask_no_more_for_more_children(provider: Provider) -> None:
    def questions() -> int:
        with CaptureQueriesContext(connection) as asked:
            meal_month(provider, DateSpan.month(2026, 3))
            meals_of_day(provider, TODAY)
            eaters(provider, TODAY, LUNCH, TODAY)
        return len(asked)

    make.make_meal(_child(provider), TODAY)
    of_one = questions()
    for n in range(11):
        make.make_meal(_child(provider, f"Child {n}"), TODAY)

    assert questions() == of_one


def test_it_counts_a_month_by_child_and_meal(provider: Provider) -> None:
    ilse, bo = _child(provider, "Ilse"), _child(provider, "Bo")
    make.make_meal(ilse, TODAY)
    make.make_meal(ilse, TODAY, SNACK)
    make.make_meal(bo, date(2026, 3, 2))
    make.make_meal(bo, date(2026, 3, 3), voided_at=NOON)
    make.make_meal(bo, date(2026, 2, 27))

    month = meal_month(provider, DateSpan.month(2026, 3))

    assert [(row.child.name, [cell.count for cell in row.cells], row.total) for row in month.rows] == [
        ("Bo", [1, 0], 1),
        ("Ilse", [1, 1], 2),
    ]
    assert [(line.kind, line.total) for line in month.by_kind] == [(LUNCH, 2), (SNACK, 1)]
    assert month.rows[1].letters[15] == "La"
    assert month.total == 3


@time_machine.travel(NOON, tick=False)
def test_a_helper_records_a_meal_in_three_taps(provider: Provider, client: Client) -> None:
    _child(provider, "Ilse")
    client.force_login(make.make_member(provider, Role.HELPER))
    address = reverse("provider:meal", args=[provider.slug, 2026, 3, 16, "lunch"])

    listed = client.get(reverse("provider:meals", args=[provider.slug]))
    form = client.get(address)
    ticked = form.context["form"]["children"].value()
    saved = client.post(address, {"children": ticked, "seen": "", "submission_key": "one"}, follow=True)

    assert address in listed.content.decode()
    assert "Lunch is recorded." in saved.content.decode()
    assert [row.child.name for row in MealServed.objects.all()] == ["Ilse"]


@time_machine.travel(NOON, tick=False)
def test_the_form_unticks_only_what_it_showed(provider: Provider, client: Client) -> None:
    ilse, bo = _child(provider, "Ilse"), _child(provider, "Bo")
    make.make_meal(ilse, TODAY)
    make.make_meal(bo, TODAY)
    client.force_login(make.make_member(provider, Role.HELPER))

    client.post(
        reverse("provider:meal", args=[provider.slug, 2026, 3, 16, "lunch"]),
        {"children": [], "seen": ilse.public_id},
    )

    assert [row.child for row in MealServed.objects.filter(voided_at__isnull=True)] == [bo]


@time_machine.travel(NOON, tick=False)
@pytest.mark.parametrize("bad", ["nobody", "'; --", "x" * 3000])
def test_the_form_refuses_children_that_are_not_there(provider: Provider, client: Client, bad: str) -> None:
    _child(provider)
    client.force_login(make.make_member(provider, Role.HELPER))

    response = client.post(reverse("provider:meal", args=[provider.slug, 2026, 3, 16, "lunch"]), {"children": [bad]})

    assert response.status_code == 422
    assert MealServed.objects.count() == 0


@time_machine.travel(NOON, tick=False)
def test_the_pages_know_no_other_meals_and_days(provider: Provider, client: Client) -> None:
    client.force_login(make.make_member(provider, Role.OWNER))
    addresses = [
        reverse("provider:meal", args=[provider.slug, 2026, 3, 16, "tea"]),
        reverse("provider:meals_day", args=[provider.slug, 2026, 2, 30]),
        reverse("provider:meals_month", args=[provider.slug, 2026, 13]),
    ]

    assert [client.get(address).status_code for address in addresses] == [404, 404, 404]


@time_machine.travel(NOON, tick=False)
def test_the_month_page_shows_the_counts(provider: Provider, client: Client) -> None:
    make.make_meal(_child(provider, "Ilse"), TODAY)
    client.force_login(make.make_member(provider, Role.OWNER))

    page = client.get(reverse("provider:meals_month", args=[provider.slug, 2026, 3])).content.decode()

    assert "Meals by child and day" in page
    assert "Ilse" in page
