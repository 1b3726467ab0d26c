from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curriculum.costing import Method, Used, take
from curriculum.stock import Count, NotSoMany, Spread, Stock, on_hand
from provider.money import from_cents

MARCH, APRIL = date(2025, 3, 1), date(2025, 4, 1)
few = st.integers(0, 5).map(Decimal)
counts = st.lists(st.builds(Count, few, few, few, few), max_size=6)


def test_it_keeps_what_was_returned_and_loses_the_rest():
    assert on_hand(Decimal(10), [Count(returned=Decimal(4), broken=Decimal(1), missing=Decimal(2))]) == 7


def test_it_refuses_to_lose_more_than_came():
    with pytest.raises(NotSoMany) as refused:
        on_hand(Decimal(3), [Count(broken=Decimal(2)), Count(missing=Decimal(2))])
    assert refused.value.held == 3


def test_it_refuses_a_negative_count():
    with pytest.raises(ValueError, match="negative"):
        Count(broken=Decimal(-1))


@given(counts, st.randoms())
def test_quantities_on_hand_are_the_same_in_any_order_of_counts(made, random):
    quantity = sum((count.gone for count in made), Decimal(7))
    shuffled = random.sample(made, len(made))
    assert on_hand(quantity, shuffled) == on_hand(quantity, made) == 7


@given(counts, st.data())
def test_every_beginning_of_a_possible_history_is_possible(made, data):
    quantity = sum((count.gone for count in made), Decimal(0))
    order = data.draw(st.permutations(made))
    for length in range(len(order) + 1):
        assert 0 <= on_hand(quantity, order[:length]) <= quantity


@given(counts, st.integers(0, 20).map(Decimal))
def test_pieces_on_hand_and_pieces_gone_always_make_up_the_lot(made, rest):
    quantity = sum((count.gone for count in made), rest)
    spread = Spread(1, MARCH, quantity, tuple(made))
    stock = Stock(quantity, spreads=(spread,))
    assert stock.on_hand + sum((count.gone for count in made), Decimal(0)) == quantity


def test_a_durable_piece_may_be_planned_for_the_next_run_before_it_is_back():
    stock = Stock(Decimal(10), spreads=(Spread(1, MARCH, Decimal(10)),))
    assert stock.free == 10


def test_a_consumable_piece_is_laid_out_only_once():
    stock = Stock(Decimal(10), is_consumable=True, spreads=(Spread(1, MARCH, Decimal(8)),))
    assert stock.free == 2


def test_a_consumable_lot_spoken_for_twice_is_not_possible():
    spreads = (Spread(1, MARCH, Decimal(8)), Spread(2, APRIL, Decimal(8)))
    assert not Stock(Decimal(10), is_consumable=True, spreads=spreads).is_possible


def test_more_laid_out_than_came_is_not_possible():
    assert not Stock(Decimal(10), spreads=(Spread(1, MARCH, Decimal(11)),)).is_possible


def test_more_counted_than_laid_out_is_not_possible():
    counted = (Count(returned=Decimal(3)), Count(returned=Decimal(1)))
    assert not Stock(Decimal(10), spreads=(Spread(1, MARCH, Decimal(3), counted),)).is_possible


def test_a_durable_lot_is_worth_what_no_run_has_borne():
    spreads = (Spread(1, MARCH, Decimal(2)), Spread(2, APRIL, Decimal(2)))
    assert Stock(Decimal(2), spreads=spreads).value_left(Decimal("48.00"), 4) == Decimal("24.00")


def test_a_consumable_lot_is_worth_its_part_that_is_left():
    used = Spread(1, MARCH, Decimal(1), (Count(used_up=Decimal(1)),))
    assert Stock(Decimal(3), True, (used,)).value_left(Decimal("10.00"), 1) == Decimal("6.67")


# --- What went into something home-made


def used(quantity, cost, on=MARCH, making=1):
    return Used(making, on, Decimal(quantity), Decimal(cost))


def test_pieces_used_for_something_home_made_leave_the_lot():
    assert Stock(Decimal(10), used=(used(4, "4.00"),)).on_hand == 6


def test_more_used_than_came_is_not_possible():
    assert not Stock(Decimal(3), used=(used(4, "4.00"),)).is_possible


def test_a_run_before_the_making_keeps_its_charge_and_a_later_one_bears_the_rest():
    spreads = (Spread(1, MARCH, Decimal(10)), Spread(2, APRIL, Decimal(5)))
    making = used(5, "15.00", on=date(2025, 3, 20))
    life = Stock(Decimal(10), spreads=spreads, used=(making,)).life(Decimal("40.00"), 4)
    assert [run.charge for run in life.runs] == [Decimal("10.00"), Decimal("5.00")]
    assert (life.moved, life.value_left, life.pieces_left) == (Decimal("15.00"), Decimal("10.00"), 5)


def test_a_consumable_run_keeps_its_cost_whatever_is_made_later():
    run = Spread(1, MARCH, Decimal(300), (Count(used_up=Decimal(300)),))
    makings = tuple(used(1, "0.01", on=APRIL, making=number) for number in range(100))
    stock = Stock(Decimal(1000), is_consumable=True, spreads=(run,), used=makings)
    assert stock.issues(Decimal("5.00")) == [Decimal("1.50")]
    assert stock.value_left(Decimal("5.00"), 1) == Decimal("2.50")


def test_what_lies_out_is_not_taken_for_something_home_made():
    stock = Stock(Decimal(10), spreads=(Spread(1, MARCH, Decimal(8)),))
    assert stock.shelf(1, MARCH, APRIL, Decimal("40.00"), 4).left == 2


def test_a_run_to_come_does_not_lessen_what_a_piece_is_worth_today():
    stock = Stock(Decimal(10), spreads=(Spread(1, APRIL, Decimal(8)),))
    shelf = stock.shelf(1, MARCH, MARCH, Decimal("40.00"), 4)
    assert (shelf.left, shelf.value) == (10, Decimal("40.00"))


@given(
    st.booleans(),
    st.integers(0, 10_000).map(from_cents),
    st.lists(st.tuples(st.sampled_from([MARCH, APRIL]), st.booleans(), st.integers(1, 5)), max_size=8),
)
def test_runs_makings_and_the_rest_always_make_up_the_cost_of_a_lot(is_consumable, basis, events):
    stock = Stock(Decimal(40), is_consumable)
    for number, (day, is_making, pieces) in enumerate(events):
        if is_making:
            shelf = stock.shelf(1, MARCH, day, basis, 3)
            (taken,) = take(Method.FIFO, [shelf], Decimal(pieces))
            one = Used(number, day, taken.quantity, taken.cost)
            stock = Stock(stock.quantity, is_consumable, stock.spreads, (*stock.used, one))
        else:
            count = Count(used_up=Decimal(pieces)) if is_consumable else Count(broken=Decimal(pieces))
            spread = Spread(number, day, Decimal(pieces), (count,))
            stock = Stock(stock.quantity, is_consumable, (*stock.spreads, spread), stock.used)
    moved = sum((each.cost for each in stock.used), Decimal(0))
    if is_consumable:
        borne = sum(stock.issues(basis), Decimal(0))
    else:
        life = stock.life(basis, 3)
        borne = life.charged + life.written_off
    left = stock.value_left(basis, 3)
    assert (borne + moved + left, min(borne, moved, left) >= 0) == (basis, True)
