"""Choosing a limit, the planner's page, the numbers of a day, and what Today says."""

from datetime import date
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError
from provider.models import AuditEntry, CapacitySetting, Provider, Role, WaitingChild
from provider.services.capacity import CustomRule, set_capacity
from provider.views.capacity import capacity_notices
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)  # a Monday
NOON = "2026-03-16T17:00:00Z"


@pytest.fixture
def provider() -> Provider:
    return make.make_provider(region="MN")


@pytest.fixture
def owner(provider: Provider) -> Client:
    client = Client()
    client.force_login(make.make_member(provider))
    return client


def _set(provider: Provider, **changes: Any) -> CapacitySetting:
    given = {"provider": provider, "actor": None, "today": TODAY, "rule": "us_mn_a", "start": TODAY, **changes}
    return set_capacity(**given)


def _page(client: Client, provider: Provider, name: str, *args: Any) -> str:
    return client.get(reverse(f"provider:{name}", args=[provider.slug, *args])).content.decode()


def _week(**changes: Any) -> dict[str, Any]:
    week = {f"{name}_{day}": value for day in range(5) for name, value in (("begins", "08:00"), ("ends", "17:00"))}
    return {"birth_date": "2023-01-10", "start": "2026-03-16", "on_0": "on", **week, **changes}


# The choice


def test_it_keeps_the_earlier_limit_for_earlier_days(provider: Provider) -> None:
    _set(provider, start=date(2026, 1, 1))

    _set(provider, rule="us_mn_c1", start=date(2026, 6, 1))

    rows = CapacitySetting.objects.order_by("start").values_list("rule", "start")
    assert list(rows) == [("us_mn_a", date(2026, 1, 1)), ("us_mn_c1", date(2026, 6, 1))]


def test_it_replaces_what_was_said_for_later(provider: Provider) -> None:
    _set(provider, start=date(2026, 6, 1))

    _set(provider, rule="us_mn_c1", start=date(2026, 5, 1))

    assert CapacitySetting.objects.get().rule == "us_mn_c1"


def test_it_saves_a_limit_once_for_two_clicks(provider: Provider) -> None:
    first = _set(provider, submission_key="k")

    assert _set(provider, submission_key="k") == first
    assert AuditEntry.objects.filter(object_kind="provider.capacitysetting").count() == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"rule": "us_mn_z"}, "rule"),
        ({"start": date(2019, 1, 1)}, "rule"),
        ({"rule": ""}, "rule"),
        ({"adults": 0}, "adults"),
        ({"licence_limit": 0}, "licence_limit"),
        ({"rule": "custom"}, "most"),
        ({"rule": "custom", "custom": CustomRule(0)}, "most"),
        ({"rule": "custom", "custom": CustomRule(6, [(0, 1)])}, "most"),
        ({"rule": "custom", "custom": CustomRule(6, [(24, -1)])}, "most"),
        ({"rule": "custom", "custom": CustomRule(6, own_under_months=-12)}, "own_under_years"),
    ],
)
def test_it_refuses_a_limit_that_is_none(provider: Provider, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refusal:
        _set(provider, **changes)

    assert refusal.value.field == field
    assert not CapacitySetting.objects.exists()


@time_machine.travel(NOON)
def test_it_offers_the_rules_of_the_place_first_and_its_own_numbers_last(owner: Client, provider: Provider) -> None:
    response = owner.get(reverse("provider:capacity_change", args=[provider.slug]))

    choices = response.context["form"].fields["rule"].choices
    assert choices[1][0] == "Minnesota, United States"
    assert choices[-1][0] == "custom"


@time_machine.travel(NOON)
def test_it_shows_rule_tiers_conditions_source_and_mark(owner: Client, provider: Provider) -> None:
    _set(provider, licence_limit=9)

    page = _page(owner, provider, "capacity")

    for words in (
        "at most 9 children",
        "at most 6 children under school age",
        "Minnesota Rules 9502.0367",
        "Read in the published text",
        "Not confirmed",
        "Your licence says 9",
        "your licensor decide",
    ):
        assert words in page


@time_machine.travel(NOON)
def test_it_marks_a_rule_read_second_hand(owner: Client, provider: Provider) -> None:
    _set(provider, rule="us_va_points")

    page = _page(owner, provider, "capacity")

    assert "Read second hand" in page
    assert "A child under 16 months: 4 points." in page


@time_machine.travel(NOON)
def test_it_says_so_when_the_chosen_rule_is_gone(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1, rule="us_gone", custom={})

    assert "in no rule file any more" in _page(owner, provider, "capacity")


@time_machine.travel(NOON)
def test_it_saves_the_owners_own_numbers(owner: Client, provider: Provider) -> None:
    given = {
        "rule": "custom",
        "start": "2026-03-16",
        "adults": "1",
        "most": "8",
        "own_under_years": "7",
        "limit_months_1": "24",
        "limit_most_1": "3",
    }

    response = owner.post(reverse("provider:capacity_change", args=[provider.slug]), given)

    assert response.status_code == 302
    assert CapacitySetting.objects.get().custom == {
        "most": 8,
        "limits": [{"under_months": 24, "most": 3}],
        "own_under_months": 84,
    }
    assert "at most 3 children under 2 years" in _page(owner, provider, "capacity")


@time_machine.travel(NOON)
@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"rule": "custom"}, "most"),
        ({"rule": "custom", "most": "8", "limit_months_2": "24"}, "limit_most_2"),
        ({"rule": "custom", "most": "8", "limit_most_3": "2"}, "limit_months_3"),
        ({"rule": "custom", "most": "lots"}, "most"),
        ({"rule": "us_zz"}, "rule"),
        ({"rule": "us_mn_a", "adults": "-1"}, "adults"),
        ({"rule": "us_mn_a", "start": "2026-02-30"}, "start"),
    ],
)
def test_it_shows_beside_its_box_what_is_wrong(
    owner: Client, provider: Provider, given: dict[str, str], field: str
) -> None:
    response = owner.post(
        reverse("provider:capacity_change", args=[provider.slug]), {"start": "2026-03-16", "adults": "1", **given}
    )

    assert response.status_code == 422
    assert field in response.context["form"].errors


# The planner


@time_machine.travel(NOON)
def test_it_asks_for_a_limit_before_it_answers(owner: Client, provider: Provider) -> None:
    assert "No limit chosen yet" in _page(owner, provider, "planner")


@time_machine.travel(NOON)
def test_it_answers_with_times_a_picture_and_a_table(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    make.make_enrolment(make.make_child(make.make_household(provider)), weekdays=(0,))

    page = owner.post(reverse("provider:planner", args=[provider.slug]), _week()).content.decode()

    assert "On 53 of 53 wanted days" in page
    assert "Children: 2, at most 1" in page
    assert "7:30 a.m. – 8 a.m., 5 p.m. – 5:30 p.m." in page
    assert '<rect class="grid-fill full"' in page


@time_machine.travel(NOON)
def test_it_fills_in_the_wish_of_somebody_on_the_waiting_list(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    row = WaitingChild.objects.create(
        provider=provider,
        child_name="Tavi Lund",
        birth_date=date(2024, 2, 29),
        contact_name="Ode Lund",
        asked_on=TODAY,
        wanted_start=date(2026, 9, 1),
        weekdays="14",
        arrives="09:00",
        leaves="12:00",
    )

    form = owner.get(reverse("provider:planner", args=[provider.slug]), {"waiting": row.public_id}).context["form"]

    assert form["start"].value() == date(2026, 9, 1)
    assert form["birth_date"].value() == date(2024, 2, 29)
    assert [bool(form[f"on_{day}"].value()) for day in range(7)] == [False, True, False, False, True, False, False]


@time_machine.travel(NOON)
def test_it_looks_at_other_days_of_a_child_with_a_place(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    place = make.make_enrolment(make.make_child(make.make_household(provider)))
    address = reverse("provider:planner", args=[provider.slug]) + f"?place={place.public_id}"

    page = owner.post(address, _week()).content.decode()

    assert "It stays within the limit" in page


@time_machine.travel(NOON)
def test_it_takes_no_place_of_another_house(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    foreign = make.make_enrolment(make.make_child(make.make_household(make.make_provider()), name="Foreign Child"))

    response = owner.get(reverse("provider:planner", args=[provider.slug]), {"place": foreign.public_id})

    assert response.context["place"] is None
    assert "Foreign Child" not in response.content.decode()


@time_machine.travel(NOON)
@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"birth_date": ""}, "birth_date"),
        ({"birth_date": "29 February 2023"}, "birth_date"),
        ({"start": "2026-03-15"}, "start"),
        ({"start": "2099-01-01"}, "start"),
        ({"begins_0": "18:00"}, "ends_0"),
        ({"household": "nobody"}, "household"),
    ],
)
def test_it_looks_at_no_week_that_cannot_be(
    owner: Client, provider: Provider, changes: dict[str, str], field: str
) -> None:
    make.make_capacity(provider, most=1)

    response = owner.post(reverse("provider:planner", args=[provider.slug]), _week(**changes))

    assert response.status_code == 422
    assert field in response.context["form"].errors
    assert response.context["forecast"] is None


@time_machine.travel(NOON)
def test_it_enrols_past_the_limit_with_a_caution(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    make.make_enrolment(make.make_child(make.make_household(provider)))
    child = make.make_child(make.make_household(provider))

    response = owner.post(
        reverse("provider:enrolment_add", args=[provider.slug, child.public_id]), _week(), follow=True
    )

    assert child.enrolments.count() == 1
    assert "on Monday from 8 a.m. to 5 p.m. (Children: 2, at most 1)" in response.content.decode()


@time_machine.travel(NOON)
def test_it_enrols_within_the_limit_without_a_word(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    child = make.make_child(make.make_household(provider))

    response = owner.post(
        reverse("provider:enrolment_add", args=[provider.slug, child.public_id]), _week(), follow=True
    )

    assert "the limit of children is passed" not in response.content.decode()


# A day, and Today


@time_machine.travel(NOON)
def test_it_draws_the_day_with_its_limit_beside_the_numbers(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    for _n in range(2):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    page = _page(owner, provider, "capacity_day", 2026, 3, 16)

    assert '<rect class="day-bar over"' in page
    assert '<line class="limit-line"' in page
    assert "Children: 2, at most 1" in page


@time_machine.travel(NOON)
@pytest.mark.parametrize("day", [(2026, 3, 8), (2026, 11, 1), (2028, 2, 29), (2026, 3, 17)])
def test_it_draws_days_on_which_the_clock_changes_leap_days_and_tomorrow(
    owner: Client, provider: Provider, day: tuple[int, int, int]
) -> None:
    make.make_capacity(provider, most=1)
    make.make_enrolment(make.make_child(make.make_household(provider)), weekdays=tuple(range(7)))

    assert "day-bar" in _page(owner, provider, "capacity_day", *day)


@time_machine.travel(NOON)
def test_it_draws_nothing_without_a_limit(owner: Client, provider: Provider) -> None:
    assert "No limit for this day" in _page(owner, provider, "capacity_day", 2026, 3, 16)


@time_machine.travel(NOON)
def test_it_says_on_today_that_the_limit_is_passed(owner: Client, provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    for _n in range(2):
        child = make.make_child(make.make_household(provider))
        make.make_attendance(child, TODAY, arrives=9, leaves=None)

    page = _page(owner, provider, "today")

    assert "The limit of children is passed from 9 a.m. to noon (Children: 2, at most 1)." in page


@time_machine.travel(NOON)
def test_it_says_that_the_limit_was_passed_earlier_in_the_day(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    for _n in range(2):
        make.make_attendance(make.make_child(make.make_household(provider)), TODAY, arrives=9, leaves=10)

    (notice,) = capacity_notices(provider, Role.HELPER, TODAY)

    assert "was passed from 9 a.m. to 10 a.m." in notice.text


@time_machine.travel(NOON)
def test_it_says_that_the_rest_of_the_plan_passes_the_limit(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    for _n in range(2):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    (notice,) = capacity_notices(provider, Role.OWNER, TODAY)

    assert notice.text.startswith("Today’s plan passes the limit")


@time_machine.travel("2026-03-16T23:00:00Z")
def test_it_no_longer_speaks_of_a_plan_that_is_over(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    for _n in range(2):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    assert list(capacity_notices(provider, Role.OWNER, TODAY)) == []


@time_machine.travel(NOON)
def test_it_tells_a_preparer_nothing_of_children(provider: Provider) -> None:
    make.make_capacity(provider, most=0)
    make.make_enrolment(make.make_child(make.make_household(provider)))

    assert list(capacity_notices(provider, Role.PREPARER, TODAY)) == []


@time_machine.travel(NOON)
@pytest.mark.parametrize("count", [6, 12])
def test_it_asks_as_often_for_a_full_house_as_for_a_small_one(
    provider: Provider, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    make.make_capacity(provider, most=20)
    for _n in range(count):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    with django_assert_num_queries(8):
        list(capacity_notices(provider, Role.OWNER, TODAY))
