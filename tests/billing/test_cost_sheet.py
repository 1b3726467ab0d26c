"""The pure part of the cost sheet, and its laws."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from billing.cost_sheet import LotShare, earned_within, lot_shares, portions, reconcile, total_share
from curriculum.costing import Used
from curriculum.stock import Count, Spread, Stock
from provider.money import ZERO, from_cents, split
from provider.periods import DateSpan

START = date(2025, 1, 1)
MARCH = DateSpan.month(2025, 3)
moneys = st.integers(0, 20_000).map(from_cents)


def month(number):
    return START + timedelta(days=30 * number)


def spread(run, placed="4", **counts):
    count = Count(**{name: Decimal(number) for name, number in counts.items()})
    return Spread(run, month(run), Decimal(placed), (count,) if counts else ())


def money(*amounts):
    return tuple(Decimal(amount) for amount in amounts)


@st.composite
def stocks(draw):
    """A lot of a few pieces laid out month by month, some of them lost, some made into things in between."""
    pieces, is_consumable, basis = draw(st.integers(1, 6)), draw(st.booleans()), draw(moneys)
    spreads, used, left, free = [], [], pieces, basis
    for run in range(draw(st.integers(0, 5))):
        gone = draw(st.integers(0, left))
        if not left:
            break
        spreads.append(spread(run, str(left), **{"used_up" if is_consumable else "broken": gone}, returned=left - gone))
        left -= gone
        if left and draw(st.booleans()):
            cost = min(from_cents(draw(st.integers(0, 500))), free)
            used.append(Used(run, month(run) + timedelta(days=draw(st.integers(0, 29))), Decimal(1), cost))
            left, free = left - 1, free - cost
    stock = Stock(Decimal(pieces), is_consumable, tuple(spreads), tuple(used))
    return stock, basis, draw(st.integers(1, 6)), min(basis, draw(moneys))


@given(stocks())
def test_what_was_borne_moved_and_left_is_always_the_basis(lot):
    for _run, share in lot_shares(*lot):
        assert share.before + share.charge + share.write_off + share.moved + share.left == share.basis


@given(stocks())
def test_what_the_last_run_leaves_is_what_the_lot_is_worth_before_later_makings(lot):
    stock, basis, uses, residual = lot
    shares = [share for _run, share in lot_shares(*lot)]
    started = max((spread.started for spread in stock.spreads), default=START)
    later = sum((each.cost for each in stock.used if each.on >= started), ZERO)
    assert (shares[-1].left if shares else basis) == stock.value_left(basis, uses, residual) + later


@given(stocks())
def test_nothing_is_ever_negative(lot):
    for _run, share in lot_shares(*lot):
        assert min(share.before, share.charge, share.write_off, share.moved, share.left, share.as_new) >= 0


@given(stocks())
def test_what_one_run_leaves_behind_is_what_the_next_one_begins_with(lot):
    shares = [share for _run, share in lot_shares(*lot)]
    for earlier, later in pairwise(shares):
        assert later.before == earlier.before + earlier.charge + earlier.write_off


@given(moneys, st.lists(st.tuples(stocks(), st.none() | moneys), max_size=4))
def test_the_way_from_the_purchases_always_ends_at_the_cost(straight, lots):
    shares = [(share, paid) for lot, paid in lots for _run, share in list(lot_shares(*lot))[-1:]]
    cost = straight + sum((share.charge + share.write_off for share, _paid in shares), ZERO)
    assert reconcile(straight, shares, cost).difference == 0


@given(st.integers(-5_000, 5_000).map(from_cents), st.lists(st.integers(1, 23), min_size=1, max_size=8))
def test_the_portions_of_the_children_add_up(total, days):
    parts = portions(zip(split(total, days), days, strict=True))
    assert (sum(part.total for part in parts), sum(part.count for part in parts)) == (total, len(days))


@given(st.integers(-90_000, 90_000).map(from_cents), st.integers(1, 60))
def test_two_adjoining_spans_earn_a_line_together(amount, days):
    covers = DateSpan(START, START + timedelta(days=days + 1))
    cut = START + timedelta(days=days // 2 + 1)
    first, second = DateSpan(START, cut), DateSpan(cut, covers.end)
    both = earned_within(first, [(covers, amount)]) + earned_within(second, [(covers, amount)])
    assert abs(both - amount) <= Decimal("0.01")


def test_a_durable_lot_shows_its_uses_and_the_value_left():
    stock = Stock(Decimal(4), spreads=(spread(0), spread(1, broken=1), spread(2)))
    shares = dict(lot_shares(stock, Decimal("40.00"), 4))
    assert shares[1] == LotShare(
        basis=Decimal("40.00"),
        use=2,
        before=Decimal("10.00"),
        charge=Decimal("10.00"),
        write_off=Decimal("5.00"),
        moved=ZERO,
        left=Decimal("15.00"),
        as_new=Decimal("40.00"),
    )


def test_pieces_laid_out_count_at_their_full_cost_when_nothing_is_reused():
    (_run, share), *_others = lot_shares(Stock(Decimal(4), spreads=(spread(0, placed="3"),)), Decimal("40.00"), 4)
    assert (share.charge, share.as_new) == money("10.00", "30.00")


def test_a_consumable_costs_the_same_whether_or_not_things_are_reused():
    stock = Stock(Decimal(4), is_consumable=True, spreads=(spread(0, used_up=3, returned=1),))
    ((_run, share),) = lot_shares(stock, Decimal("40.00"), 1)
    assert (share.charge, share.as_new, share.left) == money("30.00", "30.00", "10.00")


def test_it_names_every_difference_between_purchases_and_cost():
    bought = LotShare(*money("40.00"), 2, *money("10.00", "10.00", "5.00", "0.00", "15.00", "40.00"))
    from_home = LotShare(*money("8.00"), 1, *money("0.00", "2.00", "0.00", "1.00", "5.00", "8.00"))
    found = reconcile(Decimal("12.00"), [(bought, Decimal("38.00")), (from_home, None)], Decimal("29.00"))
    assert [step.result for step in found.steps] == list(
        money("12.00", "38.00", "8.00", "2.00", "-10.00", "-1.00", "-20.00")
    )
    assert (found.reached, found.difference) == money("29.00", "0.00")


def test_it_says_by_how_much_two_sides_differ():
    assert reconcile(Decimal("12.00"), [], Decimal("13.00")).difference == Decimal("1.00")


def test_lots_add_up_column_by_column():
    one = LotShare(*money("40.00"), 2, *money("10.00", "10.00", "5.00", "0.00", "15.00", "40.00"))
    assert total_share([one, one]) == LotShare(
        *money("80.00"), 0, *money("20.00", "20.00", "10.00", "0.00", "30.00", "80.00")
    )


def test_no_lots_add_up_to_nothing():
    assert total_share([]).basis == ZERO


def test_children_who_bear_the_same_stand_together_the_dearest_first():
    parts = portions([(Decimal("3.33"), None), (Decimal("3.34"), None), (Decimal("3.33"), None)])
    assert [(part.count, part.amount) for part in parts] == [(1, Decimal("3.34")), (2, Decimal("3.33"))]


def test_a_line_that_covers_the_run_and_more_earns_its_days():
    february_and_march = DateSpan(date(2025, 2, 1), date(2025, 4, 1))
    assert earned_within(MARCH, [(february_and_march, Decimal("590.00"))]) == Decimal("310.00")


def test_a_credit_note_takes_its_part_back():
    assert earned_within(MARCH, [(MARCH, Decimal("800.00")), (MARCH, Decimal("-800.00"))]) == ZERO


def test_a_line_of_another_month_earns_nothing():
    assert earned_within(MARCH, [(DateSpan.month(2025, 4), Decimal("800.00"))]) == ZERO
