from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curriculum.reuse import Lot, TooManyLost, Use, lot_reuse
from provider.money import from_cents


def monthly(count, **last):
    """Uses of runs 1..count in successive months; `last` are the losses of the last one."""
    plain = [Use(number, date(2025, 1, 1) + timedelta(days=30 * number)) for number in range(1, count)]
    return [*plain, Use(count, date(2025, 1, 1) + timedelta(days=30 * count), **last)]


def charges(life):
    return [str(run.charge) for run in life.runs]


bases = st.integers(0, 50_000).map(from_cents)


@st.composite
def lives(draw):
    basis = draw(bases)
    quantity = draw(st.integers(1, 12))
    lot = Lot(basis, draw(st.integers(1, 15)), quantity, round(basis * draw(st.integers(0, 4)) / 4, 2))
    left, uses = quantity, []
    for number in range(draw(st.integers(0, 20))):
        broken = draw(st.integers(0, min(left, 2)))
        missing = draw(st.integers(0, min(left - broken, 1)))
        left -= broken + missing
        uses.append(Use(number, date(2025, 1, 1) + timedelta(days=draw(st.integers(0, 40))), broken, missing))
    return lot, uses


@given(bases, st.integers(1, 60))
def test_charges_reach_the_base_exactly_at_the_last_expected_use(basis, expected_uses):
    assert lot_reuse(Lot(basis, expected_uses), monthly(expected_uses)).charged == basis


@given(bases, st.integers(1, 30))
def test_undisturbed_charges_differ_by_a_cent_at_most(basis, expected_uses):
    amounts = [run.charge for run in lot_reuse(Lot(basis, expected_uses), monthly(expected_uses)).runs]
    assert max(amounts) - min(amounts) <= Decimal("0.01")


@given(lives())
def test_charges_losses_and_value_left_are_always_the_basis(life):
    lot, uses = life
    result = lot_reuse(lot, uses)
    assert result.charged + result.written_off + result.value_left == lot.basis


@given(lives())
def test_charges_never_pass_the_base_and_nothing_is_negative(life):
    lot, uses = life
    result = lot_reuse(lot, uses)
    assert result.charged <= lot.basis - lot.residual
    assert all(run.charge >= 0 and run.write_off >= 0 and run.value_left >= 0 for run in result.runs)


@given(lives())
def test_a_lot_lost_to_the_last_piece_has_borne_all_it_cost(life):
    lot, uses = life
    left = lot_reuse(lot, uses).pieces_left
    result = lot_reuse(lot, [*uses, Use(99, date(2025, 12, 1), broken=left)])
    assert (result.charged + result.written_off, result.value_left) == (lot.basis, 0)


@given(lives(), st.randoms())
def test_the_order_of_the_uses_does_not_matter(life, random):
    lot, uses = life
    shuffled = random.sample(uses, len(uses))
    assert lot_reuse(lot, shuffled) == lot_reuse(lot, uses)


def test_uneven_cents_are_spread_over_the_uses():
    assert charges(lot_reuse(Lot(Decimal("10.00"), 3), monthly(3))) == ["3.33", "3.34", "3.33"]


def test_uses_beyond_the_expected_ones_are_free():
    assert charges(lot_reuse(Lot(Decimal("10.00"), 2), monthly(4))) == ["5.00", "5.00", "0.00", "0.00"]


def test_a_given_lot_costs_nothing():
    life = lot_reuse(Lot(Decimal("0.00"), 5), monthly(2, broken=1))
    assert (charges(life), life.written_off) == (["0.00", "0.00"], Decimal("0.00"))


def test_a_lot_that_breaks_early_gives_the_rest_to_the_run_that_broke_it():
    life = lot_reuse(Lot(Decimal("40.00"), 8), monthly(3, broken=1))
    assert (life.runs[2].charge, life.runs[2].write_off, life.value_left) == (
        Decimal("5.00"),
        Decimal("25.00"),
        Decimal("0.00"),
    )


def test_broken_pieces_take_their_share_of_the_value_left():
    life = lot_reuse(Lot(Decimal("40.00"), 8, quantity=12), monthly(1, broken=2, missing=1))
    assert (life.runs[0].write_off, life.value_left) == (Decimal("8.75"), Decimal("26.25"))


def test_later_runs_share_what_the_whole_pieces_still_bear():
    uses = [Use(1, date(2025, 1, 1), broken=3), *[Use(number, date(2025, number, 1)) for number in range(2, 9)]]
    assert charges(lot_reuse(Lot(Decimal("40.00"), 8, quantity=12), uses)) == ["5.00", *["3.75"] * 7]


def test_a_residual_is_never_charged():
    life = lot_reuse(Lot(Decimal("50.00"), 4, residual=Decimal("10.00")), monthly(6))
    assert (life.charged, life.value_left) == (Decimal("40.00"), Decimal("10.00"))


def test_a_lot_broken_after_its_expected_uses_gives_up_its_residual():
    life = lot_reuse(Lot(Decimal("50.00"), 4, residual=Decimal("10.00")), monthly(5, broken=1))
    assert life.runs[4].write_off == Decimal("10.00")


def test_a_lot_in_two_centres_of_one_run_is_used_once():
    uses = [Use(1, date(2025, 1, 1), broken=1), Use(1, date(2025, 1, 1), missing=1)]
    life = lot_reuse(Lot(Decimal("40.00"), 8, quantity=4), uses)
    assert (life.uses, life.runs[0].charge, life.pieces_left) == (1, Decimal("5.00"), 2)


def test_the_arithmetic_of_a_run_can_be_shown():
    life = lot_reuse(Lot(Decimal("40.00"), 8, quantity=12), monthly(1, broken=3))
    assert [step.expression for step in life.runs[0].steps] == ["40.00 ÷ 8", "35.00 × 3 ÷ 12"]


def test_it_finds_the_part_of_one_run():
    life = lot_reuse(Lot(Decimal("40.00"), 8), monthly(2))
    assert (life.of_run(2).number, life.of_run(9)) == (2, None)


def test_more_lost_than_held_is_refused_and_names_the_run():
    with pytest.raises(TooManyLost) as refusal:
        lot_reuse(Lot(Decimal("40.00"), 8, quantity=3), monthly(2, broken=4))
    assert (refusal.value.run, refusal.value.held) == (2, 3)


def test_a_negative_loss_is_refused():
    with pytest.raises(ValueError, match="negative"):
        lot_reuse(Lot(Decimal("40.00"), 8), monthly(1, broken=-1))


@pytest.mark.parametrize(
    "faulty",
    [{"basis": "-1.00"}, {"residual": "41.00"}, {"residual": "-1.00"}, {"expected_uses": 0}, {"quantity": 0}],
)
def test_an_impossible_lot_is_refused(faulty):
    wanted = {"basis": "40.00", "residual": "0.00", "expected_uses": 8, "quantity": 1} | faulty
    with pytest.raises(ValueError):
        Lot(Decimal(wanted["basis"]), wanted["expected_uses"], wanted["quantity"], Decimal(wanted["residual"]))
