from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curriculum.stock import Count, NotSoMany, Spread, Stock, on_hand

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
