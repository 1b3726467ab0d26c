"""The food programme: taking part, and the claim of a month as a page and a file."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from io import StringIO

import pytest
import time_machine
from django.urls import reverse

from billing.models import FoodProgramme
from billing.selectors.food_claim import month_claim
from billing.services.food import change_food_programme, join_food_programme
from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.models import Country, MealKind, Role
from provider.periods import DateSpan
from tests.factories import (
    lock_year,
    make_child,
    make_food_programme,
    make_household,
    make_meal,
    make_member,
    make_provider,
)

pytestmark = pytest.mark.django_db

TODAY = date(2025, 3, 20)
MONDAY = date(2025, 3, 3)
MARCH = DateSpan.month(2025, 3)
ALL = list(MealKind)


@pytest.fixture
def provider():
    return make_provider(region="WI")


@pytest.fixture
def child(provider):
    return make_child(make_household(provider), name="Ilse")


def reasons(claim):
    return {(each.child.name, each.line.kind): each.line.not_claimed for each in claim.not_claimed}


def eat(child, *kinds, day=MONDAY):
    for kind in kinds:
        make_meal(child, day, kind)


def join(provider, **given):
    return join_food_programme(
        **{"provider": provider, "actor": None, "today": TODAY, "tier": 1, "start": TODAY, **given}
    )


def test_it_claims_two_meals_and_a_snack_of_six_served(provider, child):
    make_food_programme(provider)
    eat(child, *ALL)
    claim = month_claim(provider, MARCH)
    # Tier I from July 2024: lunch and supper 3.15 each, one snack 0.93.
    assert claim.claim.amount == Decimal("7.23")
    assert len(claim.not_claimed) == 3
    assert set(reasons(claim).values()) == {"over_daily_maximum"}


def test_it_claims_an_own_child_only_when_allowed_and_not_alone(provider, child):
    own = make_child(child.household, name="Nils", is_own_child=True)
    programme = make_food_programme(provider)
    eat(child, MealKind.LUNCH)
    eat(own, MealKind.LUNCH, MealKind.SUPPER)
    assert reasons(month_claim(provider, MARCH)) == {("Nils", "lunch"): "own_child", ("Nils", "supper"): "own_child"}
    programme.claims_own_children = True
    programme.save()
    assert reasons(month_claim(provider, MARCH)) == {("Nils", "supper"): "own_child_alone"}


def test_it_leaves_out_who_is_left_out_or_over_age(provider, child):
    make_food_programme(provider)
    old = make_child(child.household, name="Old", birth_date=date(2011, 5, 1))
    out = make_child(child.household, name="Out", meals_not_claimed=True)
    for each in (old, out):
        eat(each, MealKind.LUNCH)
    claim = month_claim(provider, MARCH)
    assert reasons(claim) == {("Old", "lunch"): "over_age", ("Out", "lunch"): "left_out"}
    assert claim.claim.amount == Decimal("0.00")


def test_it_counts_meals_outside_the_programme_apart(provider, child):
    make_food_programme(provider, start=date(2025, 3, 10))
    eat(child, MealKind.LUNCH)
    eat(child, MealKind.LUNCH, day=date(2025, 3, 10))
    claim = month_claim(provider, MARCH)
    assert (claim.outside, len(claim.lines)) == (1, 1)


def test_it_claims_in_parts_when_the_tier_changes_within_a_month(provider, child):
    make_food_programme(provider, end=date(2025, 3, 10))
    make_food_programme(provider, tier=2, start=date(2025, 3, 10))
    eat(child, MealKind.LUNCH)
    eat(child, MealKind.LUNCH, day=date(2025, 3, 10))
    claim = month_claim(provider, MARCH)
    assert [(total.tier, total.amount) for total in claim.claim.totals] == [
        (1, Decimal("3.15")),
        (2, Decimal("1.90")),
    ]
    assert [count for _group, count in claim.children[0].counts] == [2]


def test_it_claims_nothing_where_no_rate_is_known(child, provider):
    provider.region = "GU"
    provider.save()
    make_food_programme(provider)
    eat(child, MealKind.LUNCH)
    claim = month_claim(provider, MARCH)
    assert claim.problem
    assert claim.lines == ()


def test_it_ignores_meals_that_were_taken_out(provider, child):
    make_food_programme(provider)
    make_meal(child, MONDAY, voided_at=datetime(2025, 3, 4, tzinfo=UTC))
    assert month_claim(provider, MARCH).lines == ()


@pytest.mark.parametrize("children", [1, 15])
def test_it_reads_a_month_in_two_queries(provider, children, django_assert_num_queries):
    make_food_programme(provider)
    for _n in range(children):
        eat(make_child(make_household(provider)), *ALL)
    with django_assert_num_queries(2):
        month_claim(provider, MARCH)


def test_it_joins_once_for_two_clicks(provider):
    for _click in range(2):
        join(provider, submission_key="one")
    assert FoodProgramme.objects.count() == 1


def test_a_new_tier_ends_the_one_before(provider):
    before = make_food_programme(provider)
    join(provider, tier=2)
    before.refresh_from_db()
    assert before.end == TODAY


def test_it_refuses_days_in_which_she_took_part_already(provider):
    make_food_programme(provider, start=TODAY, end=date(2025, 6, 1))
    with pytest.raises(DomainError):
        join(provider, start=date(2025, 3, 1))


def test_it_refuses_an_end_before_the_start(provider):
    with pytest.raises(DomainError):
        join(provider, end=TODAY)


def test_nobody_joins_in_canada():
    with pytest.raises(DomainError):
        join(make_provider(Country.CANADA))


def test_it_refuses_a_closed_year(provider):
    lock_year(provider, 2025)
    with pytest.raises(PeriodLocked):
        join(provider)


def change(row, **given):
    return change_food_programme(
        **{
            "provider": row.provider,
            "actor": None,
            "today": TODAY,
            "programme": row,
            "version": row.version,
            "tier": row.tier,
            "start": row.start,
            **given,
        }
    )


def test_it_ends_a_time_of_taking_part_that_began_in_a_closed_year(provider):
    row = make_food_programme(provider)
    lock_year(provider, 2024)
    assert change(row, end=TODAY).end == TODAY


def test_it_keeps_the_tier_of_a_closed_year(provider):
    row = make_food_programme(provider)
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        change(row, tier=2)


def test_it_asks_about_a_stale_change(provider):
    row = make_food_programme(provider)
    change(row, tier=2)
    with pytest.raises(StaleRow):
        change(row, version=1, tier=1)


@time_machine.travel(datetime(2025, 3, 20, 18, tzinfo=UTC), tick=False)
def test_the_owner_joins_and_the_preparer_reads_the_claim(provider, child, client):
    eat(child, *ALL)
    client.force_login(make_member(provider, Role.OWNER))
    client.post(reverse("billing:food_join", args=[provider.slug]), {"tier": "1", "start": "2025-03-01"})
    client.force_login(make_member(provider, Role.PREPARER))
    page = client.get(reverse("billing:food_month", args=[provider.slug, date(2025, 3, 1)])).content.decode()
    assert "$7.23" in page
    assert "Your sponsor decides" in page
    assert "Over the most that may be claimed for a day" in page


@time_machine.travel(datetime(2025, 3, 20, 18, tzinfo=UTC), tick=False)
@pytest.mark.parametrize(
    "bad",
    [
        {"tier": "3", "start": "2025-03-01"},
        {"tier": "1"},
        {"tier": "1", "start": "2025-03-01", "last_day": "2025-02-01"},
    ],
)
def test_the_form_refuses_what_cannot_be(provider, client, bad):
    client.force_login(make_member(provider, Role.OWNER))
    response = client.post(reverse("billing:food_join", args=[provider.slug]), bad)
    assert (response.status_code, FoodProgramme.objects.count()) == (422, 0)


@time_machine.travel(datetime(2025, 3, 20, 18, tzinfo=UTC), tick=False)
def test_the_file_holds_every_meal_and_no_formula(provider, child, client):
    make_food_programme(provider)
    child.name = '=HYPERLINK("http://bad.example")'
    child.save()
    eat(child, MealKind.LUNCH)
    client.force_login(make_member(provider, Role.PREPARER))
    response = client.get(reverse("billing:food_month_file", args=[provider.slug, date(2025, 3, 1)]))
    rows = list(csv.reader(StringIO(response.content.decode("utf-8-sig"))))
    assert rows[1] == ["2025-03-03", "'" + child.name, "Lunch", "1", "3.15", ""]
    assert child.name not in response.headers["Content-Disposition"]


@time_machine.travel(datetime(2025, 3, 20, 18, tzinfo=UTC), tick=False)
def test_in_canada_the_page_says_that_the_real_cost_counts(client):
    provider = make_provider(Country.CANADA)
    client.force_login(make_member(provider, Role.OWNER))
    page = client.get(reverse("billing:food", args=[provider.slug])).content.decode()
    month = client.get(reverse("billing:food_month", args=[provider.slug, date(2025, 3, 1)]))
    assert "really cost" in page
    assert month.status_code == 404
