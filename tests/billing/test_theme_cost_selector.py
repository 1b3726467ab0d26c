"""What a run cost, gathered from receipts, shelves, attendance and hours."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from billing.models import Receipt, ReceiptLine, ShareBasis, ShareRule, Target
from billing.selectors.theme_cost import cost_of_run, costs_of_year
from billing.theme_cost import Kind
from curriculum.models import How, Keeping, Material, Placement, PutAway, RunWork
from tests.factories import (
    make_attendance,
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_provider,
    make_room,
    make_run,
    make_work,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 2, 1)


@pytest.fixture
def provider():
    return make_provider(hourly_value=Decimal("20.00"))


@pytest.fixture
def run(provider):
    return make_run(provider)


def charge(run, cost, voided_at=None, **fields):
    """A receipt of one line charged to the run."""
    receipt = Receipt.objects.create(
        provider=run.provider, shop="Corner shop", bill_date=run.start, total=Decimal(cost), voided_at=voided_at
    )
    return ReceiptLine.objects.create(
        provider=run.provider,
        receipt=receipt,
        position=1,
        amount=Decimal(cost),
        cost=Decimal(cost),
        **{"description": "Card", "category": "craft_supplies", "target": Target.RUN, "run": run, **fields},
    )


def place(run, lot, quantity="1"):
    return Placement.objects.create(provider=run.provider, run=run, lot=lot, quantity=Decimal(quantity))


def put_away(placement, **counts):
    counts = {name: Decimal(count) for name, count in counts.items()}
    return PutAway.objects.create(provider=placement.provider, placement=placement, on=date(2025, 3, 31), **counts)


def test_it_takes_the_business_part_of_lines_charged_to_the_run(provider, run):
    charge(run, "10.00")
    charge(run, "10.00", share_rule=ShareRule.SHARED, share_basis=ShareBasis.FIXED, share="0.2500", share_reason="x")
    charge(run, "10.00", share_rule=ShareRule.PERSONAL)
    assert cost_of_run(provider, run, TODAY).of_kind(Kind.CHARGED) == Decimal("12.50")


def test_it_takes_back_what_was_returned(provider, run):
    charge(run, "10.00")
    charge(run, "-4.00")
    assert cost_of_run(provider, run, TODAY).total == Decimal("6.00")


def test_it_leaves_out_voided_receipts(provider, run):
    charge(run, "10.00", voided_at=timezone.now())
    assert cost_of_run(provider, run, TODAY).total == Decimal("0.00")


def test_it_leaves_a_line_waiting_while_the_home_share_is_unknown(provider, run):
    charge(run, "10.00", share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME)
    cost = cost_of_run(provider, run, TODAY)
    assert (cost.total, cost.waiting) == (Decimal("0.00"), 1)


def test_it_says_when_a_line_rests_on_a_provisional_home_share(provider, run):
    make_room(provider, "1600.00")
    make_attendance(make_child(make_household(provider)), date(2025, 1, 1), 0, 12)
    charge(run, "10.00", share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME)
    cost = cost_of_run(provider, run, date(2025, 1, 2))
    assert (cost.total, cost.provisional) == (Decimal("2.50"), True)


def test_it_spreads_a_lot_over_its_expected_runs(provider, run):
    lot = make_lot(provider, "50.00", expected_uses=3)
    later = [make_run(provider, date(2025, month, 1), date(2025, month + 1, 1)) for month in (4, 5, 6)]
    for each in (run, *later):
        place(each, lot)
    charges = [cost.of_kind(Kind.REUSE) for cost in costs_of_year(provider, 2025, TODAY)]
    assert charges == [Decimal("16.67"), Decimal("16.67"), Decimal("16.66"), Decimal("0.00")]


def test_it_gives_the_rest_of_a_broken_lot_to_the_run_that_broke_it(provider, run):
    put_away(place(run, make_lot(provider, "48.00", expected_uses=4)), broken="1")
    cost = cost_of_run(provider, run, TODAY)
    assert (cost.of_kind(Kind.REUSE), cost.of_kind(Kind.WRITE_OFF)) == (Decimal("12.00"), Decimal("36.00"))


def test_it_issues_consumables_that_lie_out_and_then_only_what_did_not_come_back(provider, run):
    glue = Material.objects.create(provider=provider, name="Glue", keeping=Keeping.CONSUMABLE)
    placement = place(run, make_lot(provider, "9.00", material=glue, quantity=Decimal(3)), "2")
    before = cost_of_run(provider, run, TODAY).of_kind(Kind.ISSUED)
    put_away(placement, used_up="1", returned="1")
    assert (before, cost_of_run(provider, run, TODAY).of_kind(Kind.ISSUED)) == (Decimal("6.00"), Decimal("3.00"))


def test_it_charges_a_home_made_lot_under_home_made(provider, run):
    place(run, make_lot(provider, "8.00", how=How.MADE))
    cost = cost_of_run(provider, run, TODAY)
    assert (cost.of_kind(Kind.MADE), cost.of_kind(Kind.REUSE)) == (Decimal("2.00"), Decimal("0.00"))


def test_it_writes_a_broken_home_made_lot_off_like_any_other(provider, run):
    put_away(place(run, make_lot(provider, "8.00", how=How.MADE)), broken="1")
    cost = cost_of_run(provider, run, TODAY)
    assert (cost.of_kind(Kind.MADE), cost.of_kind(Kind.WRITE_OFF)) == (Decimal("2.00"), Decimal("6.00"))


def test_it_leaves_out_voided_placements_and_lots(provider, run):
    voided = place(run, make_lot(provider))
    voided.voided_at = timezone.now()
    voided.save()
    place(run, make_lot(provider, voided_at=timezone.now()))
    assert cost_of_run(provider, run, TODAY).total == Decimal("0.00")


def test_it_shows_hours_beside_the_cost_and_never_in_it(provider, run):
    RunWork.objects.create(provider=provider, run=run, work=make_work(provider, date(2025, 3, 2), 18, 20))
    RunWork.objects.create(provider=provider, run=run, work=make_work(provider, date(2025, 3, 2), 19, 21))
    RunWork.objects.create(
        provider=provider, run=run, work=make_work(provider, date(2025, 3, 2), 18, 19, person="The helper")
    )
    cost = cost_of_run(provider, run, TODAY)
    assert (cost.hours, cost.hours_value, cost.total) == (Decimal("4.00"), Decimal("80.00"), Decimal("0.00"))


def test_it_divides_by_children_enrolled_and_by_days_attended_exactly(provider, run):
    children = [make_child(make_household(provider)) for _ in range(3)]
    own = make_child(make_household(provider), is_own_child=True)
    gone = make_child(make_household(provider))
    for child in (*children, own):
        make_enrolment(child)
        make_attendance(child, date(2025, 3, 3))
    make_attendance(children[0], date(2025, 3, 4))
    make_enrolment(gone, end=date(2025, 3, 1))
    charge(run, "10.00")
    cost = cost_of_run(provider, run, TODAY)
    assert list(cost.cost.per_child.values()) == [Decimal("3.34"), Decimal("3.33"), Decimal("3.33")]
    assert list(cost.cost.per_attended.values()) == [Decimal("5.00"), Decimal("2.50"), Decimal("2.50")]
    assert (cost.children, cost.days_attended) == (3, 4)


def test_it_counts_two_stays_on_a_day_as_one_day(provider, run):
    child = make_child(make_household(provider))
    make_attendance(child, date(2025, 3, 3), 8, 10)
    make_attendance(child, date(2025, 3, 3), 14, 17)
    assert cost_of_run(provider, run, TODAY).days_attended == 1


def test_it_asks_the_same_number_of_queries_for_more_runs(provider, run, django_assert_max_num_queries):
    child = make_child(make_household(provider))
    make_enrolment(child)
    for month in range(4, 12):
        another = make_run(provider, date(2025, month, 1), date(2025, month + 1, 1))
        charge(another, "5.00")
        put_away(place(another, make_lot(provider)), returned="1")
        make_attendance(child, date(2025, month, 3))
    with django_assert_max_num_queries(13):
        assert len(costs_of_year(provider, 2025, TODAY)) == 9


def test_it_sees_no_other_business(provider, run):
    other = make_run(make_provider())
    charge(other, "10.00")
    assert [cost.run for cost in costs_of_year(provider, 2025, TODAY)] == [run]
