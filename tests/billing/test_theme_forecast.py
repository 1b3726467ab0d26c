"""The pure part of the forecast."""

from datetime import date
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from billing.theme_forecast import Planned, by_month, charges_to_come
from curriculum.stock import Count, Spread, Stock
from provider.money import ZERO, from_cents

moneys = st.integers(0, 20_000).map(from_cents)
plans = st.builds(
    Planned,
    run=st.integers(),
    start=st.dates(date(2026, 1, 1), date(2026, 12, 31)),
    reuse=moneys,
    recorded=moneys,
    to_buy=moneys,
    last_supplies=st.none() | moneys,
)
JANUARY, FEBRUARY, MARCH = date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)


def planned(**amounts):
    return Planned("frost", JANUARY, **{name: Decimal(amount) for name, amount in amounts.items()})


def coming(stock, *runs, basis="40.00", expected_uses=4):
    return charges_to_come(stock, runs, basis=Decimal(basis), expected_uses=expected_uses)


@given(st.lists(plans, max_size=12))
def test_the_months_add_up_to_the_runs(some):
    months = by_month(some)
    assert sum((month.total for month in months), ZERO) == sum((run.total for run in some), ZERO)


@given(plans)
def test_the_parts_of_a_run_add_up_and_none_is_negative(run):
    parts = [run.reuse, run.recorded, run.to_buy, run.as_last_time]
    assert (sum(parts, ZERO), min(parts) >= 0) == (run.total, True)


@given(plans)
def test_supplies_are_never_fewer_than_last_time(run):
    assert run.recorded + run.to_buy + run.as_last_time >= (run.last_supplies or ZERO)


def test_what_is_recorded_or_on_the_list_is_not_counted_again_as_last_time():
    run = planned(reuse="5.00", recorded="8.00", to_buy="12.00", last_supplies="30.00")
    assert (run.as_last_time, run.total) == (Decimal("10.00"), Decimal("35.00"))


def test_a_longer_list_than_last_time_stands_as_it_is():
    run = planned(to_buy="45.00", last_supplies="30.00")
    assert (run.as_last_time, run.total) == (ZERO, Decimal("45.00"))


def test_without_a_last_time_only_the_plan_counts():
    assert planned(to_buy="45.00").total == Decimal("45.00")


def test_runs_come_month_by_month_in_order():
    runs = [Planned("b", FEBRUARY), Planned("a", JANUARY), Planned("c", date(2026, 2, 20))]
    assert [(month.first, [run.run for run in month.runs]) for month in by_month(runs)] == [
        (JANUARY, ["a"]),
        (FEBRUARY, ["b", "c"]),
    ]


def test_a_lot_goes_on_being_charged_until_its_base_is_borne():
    stock = Stock(
        Decimal(1), spreads=(Spread(1, date(2025, 1, 1), Decimal(1)), Spread(2, date(2025, 2, 1), Decimal(1)))
    )
    assert coming(stock, (7, JANUARY), (8, FEBRUARY), (9, MARCH)) == {
        7: Decimal("10.00"),
        8: Decimal("10.00"),
        9: ZERO,
    }


def test_a_lot_that_is_all_broken_charges_nothing_more():
    gone = Spread(1, date(2025, 1, 1), Decimal(1), (Count(broken=Decimal(1)),))
    assert coming(Stock(Decimal(1), spreads=(gone,)), (7, JANUARY)) == {}


def test_a_lot_already_placed_in_a_run_is_charged_there_once():
    stock = Stock(Decimal(2), spreads=(Spread(7, JANUARY, Decimal(1)),))
    assert coming(stock, (7, JANUARY)) == {7: Decimal("10.00")}
