from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from curriculum.supply import Met, Pieces, Want, meet, to_buy


def pieces(*numbers, centre=None, lot=None):
    return [Pieces("cups", Decimal(number), centre, lot) for number in numbers]


def want(number, centre=None, key="w"):
    return Want(key, "cups", centre, Decimal(number))


def test_it_meets_a_want_by_what_lies_there():
    assert meet([want(4, "art")], pieces(4, centre="art"), []) == {"w": Met(Decimal(4), (), Decimal(0))}


def test_it_takes_lots_in_their_order_until_the_want_is_met():
    free = [*pieces(3, lot="old"), *pieces(3, lot="new"), *pieces(9, lot="newest")]

    met = meet([want(5)], [], free)["w"]

    assert met.takes == (("old", 3), ("new", 2))
    assert (met.to_lay_out, met.short) == (5, 0)


def test_it_says_how_many_are_short():
    assert meet([want(5)], [], pieces(2, lot="only"))["w"].short == 3


def test_it_takes_each_lot_for_one_want_only():
    met = meet([want(2, "art", "a"), want(2, "sand", "s")], [], pieces(9, lot="only"))

    assert [met["a"].short, met["s"].short] == [0, 2]


def test_it_meets_a_want_of_anywhere_by_what_a_centre_does_not_want():
    met = meet([want(5, None, "any"), want(2, "art", "a")], pieces(6, centre="art"), [])

    assert (met["a"].placed, met["any"].placed, met["any"].short) == (2, 4, 1)


def test_it_leaves_what_lies_in_another_centre_alone():
    assert meet([want(2, "art")], pieces(2, centre="sand"), [])["w"].placed == 0


def test_it_takes_no_other_material():
    assert meet([want(2)], [], [Pieces("plates", Decimal(5), lot="p")])["w"].short == 2


def test_it_buys_nothing_when_more_is_there_than_needed():
    assert to_buy(Decimal(2), Decimal(5)) == 0


def test_it_buys_what_is_neither_there_nor_coming():
    assert to_buy(Decimal(9), Decimal(3), Decimal(2)) == 4


@given(
    st.lists(st.tuples(st.integers(1, 9), st.sampled_from(["art", "sand", None])), max_size=5),
    st.lists(st.tuples(st.integers(1, 9), st.sampled_from(["art", "sand", None])), max_size=5),
    st.lists(st.integers(0, 9), max_size=5),
)
def test_it_accounts_for_every_piece(wanted, lying, free):
    wants = [want(number, centre, key) for key, (number, centre) in enumerate(wanted)]
    there = [each for number, centre in lying for each in pieces(number, centre=centre)]
    lots = [each for lot, number in enumerate(free) for each in pieces(number, lot=lot)]

    met = meet(wants, there, lots)

    assert all(met[each.key].placed + met[each.key].to_lay_out + met[each.key].short == each.quantity for each in wants)
    assert sum(each.placed for each in met.values()) <= sum(number for number, _ in lying)
    taken = [lot for each in met.values() for lot, _ in each.takes]
    assert len(taken) == len(set(taken))
    assert all(number <= free[lot] for each in met.values() for lot, number in each.takes)
