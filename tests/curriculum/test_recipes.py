from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curriculum.recipes import Line, make_or_buy, need, needs, remake

texts = st.lists(st.sampled_from(["A", "B", "C", "a", "Ém"]), max_size=6)


def test_waste_is_taken_on_top_of_what_is_needed():
    assert need(Line("card", Decimal(9), waste=Decimal("0.1")), Decimal(1), Decimal(1)) == 10


def test_a_recipe_for_a_batch_is_scaled_to_the_pieces():
    assert need(Line("card", Decimal(2)), Decimal(6), Decimal(9)) == 3


def test_thirds_are_not_rounded_up_past_the_whole():
    assert need(Line("card", Decimal(2)), Decimal(3), Decimal(3)) == 2


def test_a_need_is_rounded_up_so_that_nothing_is_short():
    assert need(Line("card", Decimal(1)), Decimal(3), Decimal(1)) == Decimal("0.334")


@pytest.mark.parametrize(("makes", "waste"), [("0", "0"), ("1", "1"), ("1", "-0.1")])
def test_a_batch_of_nothing_is_refused(makes, waste):
    with pytest.raises(ValueError, match="makes something"):
        need(Line("card", Decimal(1), Decimal(waste)), Decimal(makes), Decimal(1))


def test_what_is_remade_needs_only_what_is_specific_to_a_child():
    lines = [Line("tub", Decimal(1)), Line("card", Decimal(1), child_specific=True), Line("card", Decimal(2))]
    assert needs(lines, Decimal(1), Decimal(2), only_child_specific=True) == {"card": 2}
    assert needs(lines, Decimal(1), Decimal(2)) == {"tub": 2, "card": 6}


def test_hours_stand_beside_the_cost_and_never_in_it():
    compared = make_or_buy(Decimal("13.00"), Decimal(4), 90, bought=Decimal("9.99"), rate=Decimal("20.00"))
    assert (compared.made, compared.saved) == (Decimal("3.25"), Decimal("6.74"))
    assert (compared.hours, compared.hours_value) == (Decimal("0.38"), Decimal("7.50"))


def test_buying_may_be_cheaper():
    assert make_or_buy(Decimal("5.00"), Decimal(1), 0, bought=Decimal("4.00")).saved == Decimal("-1.00")


def test_nothing_is_compared_without_a_price():
    assert make_or_buy(Decimal("5.00"), Decimal(1), 0).saved is None


def test_a_changed_roster_says_what_to_make_keep_bring_out_and_put_by():
    plan = remake(["M", "Jo", "R"], [(1, "m"), (2, "T")], [(3, "JO")])
    assert (plan.make, plan.keep, plan.bring_out, plan.put_by) == (("R",), (1,), (3,), (2,))


def test_two_children_with_one_letter_need_two_pieces():
    assert remake(["M", "M"], [(1, "M")]).make == ("M",)


@given(texts, texts, texts)
def test_every_child_has_a_piece_and_every_piece_a_place(wanted, out, by):
    good = [(("out", index), text) for index, text in enumerate(out)]
    away = [(("by", index), text) for index, text in enumerate(by)]
    plan = remake(wanted, good, away)
    assert len(plan.make) + len(plan.keep) + len(plan.bring_out) == len(wanted)
    assert sorted(plan.keep + plan.put_by) == sorted(piece for piece, _text in good)
    assert remake(wanted, good + away).make == plan.make
