"""The cost sheet and the forecast, gathered from receipts, lots, plans, invoices and attendance."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from billing.models import Invoice, InvoiceLine, Receipt, ReceiptLine, Series, ShareBasis, ShareRule, Target, TaxYear
from billing.selectors.cost_sheet import cost_sheet, forecast
from billing.selectors.theme_cost import costs_of_year
from curriculum.models import How, Keeping, Material, Placement, PlannedMaterial, PutAway, ShoppingItem, ThemeRun
from tests.factories import (
    make_attendance,
    make_child,
    make_enrolment,
    make_guardian,
    make_household,
    make_lot,
    make_provider,
    make_run,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 2, 1)


@pytest.fixture
def provider():
    return make_provider()


@pytest.fixture
def run(provider):
    return make_run(provider)


def again(run, start, end, **fields):
    return ThemeRun.objects.create(provider=run.provider, theme=run.theme, start=start, end=end, **fields)


def buy(provider, cost, on=date(2025, 3, 3), **fields):
    receipt = Receipt.objects.create(provider=provider, shop="Corner shop", bill_date=on, total=Decimal(cost))
    if paid := fields.pop("paid", None):
        receipt.paid_date = paid
        receipt.save()
    return ReceiptLine.objects.create(
        provider=provider,
        receipt=receipt,
        position=1,
        amount=Decimal(cost),
        cost=Decimal(cost),
        **{"description": "Card", "category": "craft_supplies", **fields},
    )


def for_run(run, cost, **fields):
    return buy(run.provider, cost, target=Target.RUN, run=run, **fields)


def for_lot(lot, cost, **fields):
    return buy(lot.provider, cost, target=Target.LOT, lot=lot, **{"category": "toys_books", **fields})


def place(run, lot, quantity="1"):
    return Placement.objects.create(provider=run.provider, run=run, lot=lot, quantity=Decimal(quantity))


def put_away(placement, **counts):
    counts = {name: Decimal(count) for name, count in counts.items()}
    return PutAway.objects.create(provider=placement.provider, placement=placement, on=placement.run.end, **counts)


def consumable(provider, basis, quantity):
    glue = Material.objects.create(provider=provider, name="Glue", keeping=Keeping.CONSUMABLE)
    return make_lot(provider, basis, material=glue, quantity=Decimal(quantity))


def invoice(provider, start, end, amount, number=1, **fields):
    guardian = make_guardian(make_household(provider))
    row = Invoice.objects.create(
        provider=provider,
        household=guardian.household,
        guardian=guardian,
        year=2025,
        number=number,
        issued_on=start,
        due_on=start,
        covers_start=start,
        covers_end=end,
        total=Decimal(amount),
        issuer_name="Home",
        payer_name="Parent",
        **fields,
    )
    InvoiceLine.objects.create(
        provider=provider,
        invoice=row,
        position=1,
        guardian=guardian,
        covers_start=start,
        covers_end=end,
        description="Care",
        amount=Decimal(amount),
    )
    return row


def sheet(run):
    return cost_sheet(run.provider, run, TODAY)


def need(run, material, quantity="1"):
    return PlannedMaterial.objects.create(provider=run.provider, run=run, material=material, quantity=Decimal(quantity))


def one_of_everything(run):
    """Receipt lines, a bought lot in its second run, a lot from home, a consumable lot, a broken piece."""
    provider = run.provider
    for_run(run, "12.40")
    for_run(run, "10.00", share_rule=ShareRule.SHARED, share_basis=ShareBasis.FIXED, share="0.2500", share_reason="x")
    before = make_run(provider, date(2025, 2, 1), date(2025, 3, 1))
    blocks = make_lot(provider, "40.00", quantity=Decimal(4))
    for_lot(blocks, "38.00")
    place(before, blocks, "4")
    put_away(place(run, blocks, "4"), broken="1", returned="3")
    place(run, make_lot(provider, "9.00", how=How.FROM_HOME))
    glue = consumable(provider, "30.00", 3)
    for_lot(glue, "30.00", category="craft_supplies")
    place(run, glue, "2")


def test_the_purchases_lead_to_the_cost_to_the_cent(run):
    one_of_everything(run)
    found = sheet(run)
    assert [str(step.result) for step in found.reconciliation.steps] == [
        "14.90",
        "68.00",
        "9.00",
        "2.00",
        "-10.00",
        "0.00",
        "-31.75",
    ]
    assert (found.reconciliation.reached, found.reconciliation.difference) == (found.cost.total, 0)


def test_it_shows_each_lot_with_its_uses_and_value_left(run):
    one_of_everything(run)
    shares = {each.lot.basis: each.share for each in sheet(run).cost.lots}
    blocks = shares[Decimal("40.00")]
    assert (blocks.use, blocks.charge, blocks.write_off, blocks.left) == (2, 10, 5, 15)


def test_it_says_what_it_would_have_cost_with_nothing_reused(run):
    one_of_everything(run)
    found = sheet(run)
    assert (found.cost.as_new, found.saved) == (Decimal("83.90"), Decimal("83.90") - found.cost.total)


def test_it_puts_each_purchase_on_its_tax_line(run):
    for_run(run, "12.40")
    (row,) = sheet(run).tax
    assert (row.place.startswith("Schedule C"), row.deductible, row.waiting) == (True, Decimal("12.40"), 0)


@pytest.mark.parametrize("category", ["food", "vehicle", "nobody_knows"])
def test_it_leaves_what_is_not_computed_out_of_the_deductible(run, category):
    for_run(run, "12.40", category=category)
    found = sheet(run)
    assert (found.deductible, found.not_computed, bool(found.tax[0].reason)) == (0, Decimal("12.40"), True)


def test_the_tax_side_adds_up_to_the_purchases(run):
    one_of_everything(run)
    for_run(run, "6.00", category="food")
    for_run(run, "5.00", share_rule=ShareRule.PERSONAL)
    found = sheet(run)
    paid = found.reconciliation.steps[0].result + found.reconciliation.steps[1].result
    assert (found.purchases, found.deductible + found.not_computed) == (paid, paid)


def test_a_line_waiting_for_the_home_share_counts_on_neither_side(run):
    for_run(run, "10.00", share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME)
    found = sheet(run)
    assert (found.purchases, found.reconciliation.difference, found.tax[0].spent.amount.business) == (0, 0, None)


@pytest.mark.parametrize(("basis", "day"), [("cash", date(2025, 4, 9)), ("accrual", date(2025, 3, 3))])
def test_a_purchase_counts_by_the_basis_of_its_year(run, basis, day):
    TaxYear.objects.create(provider=run.provider, year=2025, basis=basis)
    for_run(run, "12.40", paid=date(2025, 4, 9))
    assert sheet(run).tax[0].spent.counted_on == day


def test_a_year_without_rules_deducts_nothing(provider):
    run = make_run(provider, date(2019, 3, 1), date(2019, 4, 1))
    for_run(run, "12.40", on=date(2019, 3, 3))
    assert (sheet(run).deductible, sheet(run).tax[0].place) == (0, "No tax rules")


def test_voided_receipts_stand_on_neither_side(run):
    line = for_run(run, "12.40")
    line.receipt.voided_at = timezone.now()
    line.receipt.save()
    assert (sheet(run).tax, sheet(run).cost.total) == ((), 0)


def test_it_sets_the_cost_beside_the_tuition_of_its_days(run):
    for_run(run, "15.50")
    invoice(run.provider, date(2025, 2, 1), date(2025, 4, 1), "590.00")
    invoice(run.provider, date(2025, 4, 1), date(2025, 5, 1), "800.00", number=2)
    found = sheet(run)
    assert (found.tuition, found.of_tuition) == (Decimal("310.00"), Decimal("0.0500"))


def test_a_credit_note_takes_tuition_back(run):
    first = invoice(run.provider, run.start, run.end, "800.00")
    invoice(run.provider, run.start, run.end, "-800.00", series=Series.CREDIT, corrects=first)
    assert (sheet(run).tuition, sheet(run).of_tuition) == (0, None)


def test_it_compares_with_earlier_runs_of_the_same_theme_only(run):
    make_run(run.provider, date(2025, 1, 1), date(2025, 2, 1))
    later = again(run, date(2026, 1, 1), date(2026, 2, 1))
    again(run, date(2025, 10, 1), date(2025, 11, 1), voided_at=timezone.now())
    for_run(run, "10.00")
    for_run(later, "12.50", on=date(2026, 1, 2))
    rows = sheet(later).earlier
    assert [(row.run.run, row.change) for row in rows] == [(run, None), (later, Decimal("2.50"))]


def test_days_attended_between_two_runs_of_a_theme_belong_to_neither(run):
    later = again(run, date(2026, 1, 1), date(2026, 2, 1))
    child = make_child(make_household(run.provider))
    for day in (date(2025, 3, 3), date(2025, 7, 1), date(2026, 1, 5), date(2026, 1, 6)):
        make_attendance(child, day)
    assert [row.run.days_attended for row in sheet(later).earlier] == [1, 2]


def test_the_parts_of_the_children_add_up_both_ways(run):
    for_run(run, "10.00")
    for number in range(3):
        child = make_child(make_household(run.provider))
        make_enrolment(child)
        for day in range(3, 5 + number):
            make_attendance(child, date(2025, 3, day))
    found = sheet(run)
    assert [(part.count, str(part.amount)) for part in found.by_child] == [(1, "3.34"), (2, "3.33")]
    assert [(part.days, str(part.amount)) for part in found.by_days] == [(4, "4.45"), (3, "3.33"), (2, "2.22")]


def test_it_says_how_much_of_the_budget_is_left_or_over(run):
    for_run(run, "10.00")
    run.budget = Decimal("8.00")
    assert (sheet(run).cost.left_of_budget, sheet(run).cost.over_budget) == (Decimal("-2.00"), Decimal("2.00"))


def test_a_run_taken_out_of_the_plan_is_not_in_the_year(run):
    run.voided_at = timezone.now()
    run.save()
    assert costs_of_year(run.provider, 2025, TODAY) == ()


def test_it_sees_no_other_business(run):
    other = make_run(make_provider())
    one_of_everything(other)
    invoice(other.provider, run.start, run.end, "800.00")
    found = sheet(run)
    assert (found.cost.total, found.tax, found.tuition) == (0, (), 0)


def test_it_asks_the_same_number_of_queries_for_many_lots(run, django_assert_max_num_queries):
    one_of_everything(run)
    for number in range(25):
        lot = make_lot(run.provider, "12.00")
        for_lot(lot, "12.00")
        put_away(place(run, lot), returned="1")
        if number < 8:
            place(again(run, date(2015 + number, 3, 1), date(2015 + number, 4, 1)), lot)
    with django_assert_max_num_queries(24):
        assert len(sheet(run).cost.lots) == 28


# --- The forecast ----------------------------------------------------------------------------------------------------


@pytest.fixture
def coming(run):
    """The theme of `run` a year later."""
    return again(run, date(2026, 3, 1), date(2026, 4, 1))


def planned(provider):
    (row,) = forecast(provider, TODAY).runs
    return row


def test_what_lay_out_last_time_will_be_charged_again(run, coming):
    place(run, make_lot(run.provider, "40.00"))
    assert planned(run.provider).reuse == Decimal("10.00")


def test_what_broke_last_time_will_not_lie_out_again(run, coming):
    put_away(place(run, make_lot(run.provider, "40.00")), broken="1")
    assert planned(run.provider).reuse == 0


def test_what_is_placed_already_is_charged_once(run, coming):
    lot = make_lot(run.provider, "40.00")
    place(run, lot)
    place(coming, lot)
    assert planned(run.provider).reuse == Decimal("10.00")


def test_needs_say_what_will_lie_out_instead_of_last_time(run, coming):
    place(run, make_lot(run.provider, "40.00"))
    ribbons = make_lot(run.provider, "20.00")
    make_lot(run.provider, "60.00", material=ribbons.material, on=date(2025, 6, 1))
    need(coming, ribbons.material)
    assert planned(run.provider).reuse == Decimal("5.00")


def test_a_need_for_more_takes_the_next_lot_as_well(run, coming):
    ribbons = make_lot(run.provider, "20.00")
    make_lot(run.provider, "60.00", material=ribbons.material, on=date(2025, 6, 1))
    need(coming, ribbons.material, "2")
    assert planned(run.provider).reuse == Decimal("20.00")


def test_supplies_come_as_last_time_less_what_is_recorded_or_on_the_list(run, coming):
    for_run(run, "30.00")
    put_away(place(run, consumable(run.provider, "9.00", 3), "2"), used_up="1", returned="1")
    for_run(coming, "4.00", on=date(2026, 1, 20))
    for estimate, bought_on in (("12.00", None), ("50.00", date(2026, 1, 20)), (None, None)):
        ShoppingItem.objects.create(
            provider=run.provider, run=coming, text="Paint", estimate=estimate, bought_on=bought_on
        )
    row = planned(run.provider)
    assert (row.recorded, row.to_buy, row.as_last_time, row.total) == tuple(
        map(Decimal, ("4.00", "12.00", "17.00", "33.00"))
    )


def test_it_follows_the_run_it_was_started_from(run):
    other = make_run(run.provider, date(2026, 3, 1), date(2026, 4, 1), started_from=run)
    for_run(run, "30.00")
    row = planned(run.provider)
    assert (row.run.run, row.run.last.run, row.as_last_time) == (other, run, Decimal("30.00"))


def test_a_theme_that_never_ran_is_only_what_is_planned(provider):
    make_run(provider, date(2026, 3, 1), date(2026, 4, 1))
    found = forecast(provider, TODAY)
    assert (found.total, found.unknown) == (0, 1)


def test_it_looks_twelve_months_ahead_and_leaves_out_what_runs_or_was_taken_out(provider):
    make_run(provider, TODAY, date(2026, 3, 1))
    make_run(provider, date(2027, 3, 1), date(2027, 4, 1))
    make_run(provider, date(2026, 5, 1), date(2026, 6, 1), voided_at=timezone.now())
    wanted = make_run(provider, date(2026, 4, 1), date(2026, 5, 1))
    assert [row.run.run for row in forecast(provider, TODAY).runs] == [wanted]


def test_a_lot_charged_in_two_coming_runs_never_passes_its_cost(run, coming):
    lot = make_lot(run.provider, "40.00", expected_uses=2)
    place(run, lot)
    later = again(run, date(2026, 5, 1), date(2026, 6, 1))
    assert {row.run.run: row.reuse for row in forecast(run.provider, TODAY).runs} == {coming: 20, later: 0}


def test_the_forecast_sees_no_other_business(run, coming):
    assert forecast(make_provider(), TODAY).months == ()


def test_the_forecast_asks_the_same_number_of_queries_for_a_year_of_runs(run, django_assert_max_num_queries):
    for month in range(3, 13):
        for _each in range(3):
            place(run, make_lot(run.provider, "12.00"))
        again(run, date(2026, month, 1), date(2026 + month // 12, month % 12 + 1, 1))
    with django_assert_max_num_queries(20):
        assert len(forecast(run.provider, TODAY).runs) == 10
