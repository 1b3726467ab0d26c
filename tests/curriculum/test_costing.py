from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curriculum.costing import Method, Part, Shelf, Short, Taken, costs_of_parts, on_shelves, take
from provider.money import ZERO, from_cents

START = date(2025, 1, 1)
pieces = st.integers(1, 50_000).map(lambda count: Decimal(count).scaleb(-3))
lots = st.lists(st.tuples(st.integers(0, 30), pieces, st.integers(0, 100_000).map(from_cents)), min_size=1, max_size=6)
methods = st.sampled_from(Method)


def shelf(lot, day, came, cost):
    came = Decimal(came)
    return Shelf(lot, START + timedelta(days=day), came, Decimal(cost), came, Decimal(cost))


def stock_of(given_lots):
    return [shelf(number, day, came, cost) for number, (day, came, cost) in enumerate(given_lots)]


def after(stock, taken):
    gone = {each.lot: each for each in taken}
    return [
        replace(each, left=each.left - gone[each.lot].quantity, value=each.value - gone[each.lot].cost)
        if each.lot in gone
        else each
        for each in stock
    ]


def value(stock):
    return sum((each.value for each in stock), ZERO)


def cost(taken):
    return sum((each.cost for each in taken), ZERO)


def takings(draw, stock):
    """Quantities that the stock can give one after the other."""
    left, wanted = on_shelves(stock), []
    while left > 0 and len(wanted) < 5:
        wanted.append(draw(st.integers(1, int(left.scaleb(3)))) * Decimal("0.001"))
        left -= wanted[-1]
    return wanted


@given(lots, methods, st.data())
def test_what_is_taken_and_what_remains_always_make_up_the_whole(some, method, data):
    stock = stock_of(some)
    came, worth, borne = on_shelves(stock), value(stock), ZERO
    for quantity in takings(data.draw, stock):
        taken = take(method, stock, quantity)
        stock, borne = after(stock, taken), borne + cost(taken)
        assert sum(each.quantity for each in taken) == quantity
        came -= quantity
        assert (on_shelves(stock), value(stock)) == (came, worth - borne)


@given(lots, methods, st.data())
def test_no_lot_gives_more_than_it_has_nor_more_than_it_is_worth(some, method, data):
    stock = stock_of(some)
    for quantity in takings(data.draw, stock):
        stock = after(stock, take(method, stock, quantity))
        assert all(each.left >= 0 and each.value >= 0 for each in stock)


@given(lots, methods)
def test_the_last_piece_takes_the_last_cent(some, method):
    stock = stock_of(some)
    assert value(after(stock, take(method, stock, on_shelves(stock)))) == 0


@given(lots, methods, pieces)
def test_more_than_there_is_cannot_be_taken(some, method, more):
    stock = stock_of(some)
    with pytest.raises(Short) as short:
        take(method, stock, on_shelves(stock) + more)
    assert short.value.missing == more


@given(lots, st.data())
def test_oldest_first_costs_the_same_taken_piece_by_piece_or_all_at_once(some, data):
    stock = stock_of(some)
    wanted = takings(data.draw, stock)
    at_once = take(Method.FIFO, stock, sum(wanted, Decimal(0)))
    step_by_step, left = ZERO, stock
    for quantity in wanted:
        taken = take(Method.FIFO, left, quantity)
        left, step_by_step = after(left, taken), step_by_step + cost(taken)
    assert step_by_step == cost(at_once)


@given(lots, methods, st.data())
def test_what_remains_is_the_same_in_any_order_of_takings(some, method, data):
    wanted = takings(data.draw, stock_of(some))
    shuffled = data.draw(st.permutations(wanted))
    ends = []
    for order in (wanted, shuffled):
        stock = stock_of(some)
        for quantity in order:
            stock = after(stock, take(method, stock, quantity))
        ends.append(on_shelves(stock))
    assert ends[0] == ends[1]


@given(lots, methods, st.randoms(), st.data())
def test_lots_are_taken_in_the_order_of_their_days_however_they_are_given(some, method, random, data):
    stock = stock_of(some)
    quantity = takings(data.draw, stock)[0]
    assert take(method, random.sample(stock, len(stock)), quantity) == take(method, stock, quantity)


def test_two_lots_of_one_day_go_by_their_id():
    stock = [shelf(2, 0, 1, "2.00"), shelf(1, 0, 1, "1.00")]
    assert take(Method.FIFO, stock, Decimal(1)) == (Taken(1, Decimal(1), Decimal("1.00")),)


def test_half_cents_of_a_sheet_do_not_add_up_to_more_than_the_pack():
    stock, posted = [shelf(1, 0, 1000, "5.00")], []
    for _ in range(400):
        taken = take(Method.FIFO, stock, Decimal(1))
        stock = after(stock, taken)
        posted.append(cost(taken))
    assert sum(posted) == Decimal("2.00")


def test_every_lot_gives_its_part_at_the_average():
    stock = [shelf(1, 0, 10, "10.00"), shelf(2, 1, 10, "20.00")]
    assert [(each.quantity, each.cost) for each in take(Method.AVERAGE, stock, Decimal(5))] == [
        (Decimal("2.5"), Decimal("2.50")),
        (Decimal("2.5"), Decimal("5.00")),
    ]


def test_a_lot_too_small_for_a_thousandth_gives_nothing_at_the_average():
    stock = [shelf(1, 0, "0.001", "9.00"), shelf(2, 1, 1000, "10.00")]
    assert [each.lot for each in take(Method.AVERAGE, stock, Decimal(1))] == [2]


@pytest.mark.parametrize("quantity", ["0", "-1"])
def test_nothing_cannot_be_taken(quantity):
    with pytest.raises(ValueError, match="above zero"):
        take(Method.FIFO, [shelf(1, 0, 5, "5.00")], Decimal(quantity))


# --- What the parts of one lot cost


def test_a_lot_is_issued_up_to_its_cost_and_never_past_it():
    parts = [Part(Decimal(1)), Part(Decimal(1)), Part(Decimal(1)), Part(Decimal(5))]
    assert costs_of_parts(Decimal("10.00"), Decimal(3), parts) == [
        Decimal("3.33"),
        Decimal("3.34"),
        Decimal("3.33"),
        Decimal("0.00"),
    ]


def test_a_negative_part_is_refused():
    with pytest.raises(ValueError, match="negative"):
        costs_of_parts(Decimal("10.00"), Decimal(3), [Part(Decimal(-1))])


def test_an_earlier_run_is_not_changed_by_what_is_made_later():
    alone = costs_of_parts(Decimal("5.00"), Decimal(1000), [Part(Decimal(300))])
    later = [Part(Decimal(1), Decimal("0.01")) for _ in range(100)]
    assert costs_of_parts(Decimal("5.00"), Decimal(1000), [Part(Decimal(300)), *later])[:1] == alone


@given(
    st.integers(0, 100_000).map(from_cents),
    st.lists(st.tuples(st.integers(1, 20), st.booleans()), min_size=1, max_size=8),
    st.randoms(),
)
def test_parts_entered_in_any_order_reach_the_cost_exactly_when_all_is_gone(worth, given_parts, random):
    came = Decimal(sum(quantity for quantity, _made in given_parts))
    stock, parts = [shelf(1, 0, came, worth)], []
    for quantity, made in given_parts:
        taken = take(Method.FIFO, stock, Decimal(quantity))
        stock = after(stock, taken)
        parts.append(Part(Decimal(quantity), cost(taken) if made else None))
    costs = costs_of_parts(worth, came, random.sample(parts, len(parts)))
    assert sum(costs, ZERO) == worth
    assert min(costs) >= 0
