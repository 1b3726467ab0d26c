from datetime import date
from decimal import Decimal

import pytest

from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import Acquisition, How, Keeping, Material
from curriculum.selectors.runs import lot_choices, lots_to_place
from curriculum.selectors.stock import lot_views, on_hand_of, stock_of
from curriculum.services.materials import (
    acquire,
    acquire_lot,
    add_material,
    amend,
    change_material,
    correct_lot,
    void_lot,
    withdraw,
)
from provider.desk import writing
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from tests.curriculum.conftest import TODAY
from tests.factories import lock_year, make_lot, make_provider, make_run

DAY = date(2025, 2, 3)


@pytest.fixture
def material(writer):
    return add_material(**writer, name="Shells")


@pytest.fixture
def on_receipt(provider, lot):
    """The lot stands on a receipt."""
    receipt = Receipt.objects.create(provider=provider, shop="Corner shop", bill_date=DAY, total=lot.basis)
    ReceiptLine.objects.create(
        provider=provider,
        receipt=receipt,
        position=1,
        description="Bucket of bricks",
        amount=lot.basis,
        cost=lot.basis,
        category="supplies",
        target=Target.LOT,
        lot=lot,
    )
    return receipt


def correct(writer, lot, **changes):
    same = {name: getattr(lot, name) for name in ("on", "how", "quantity", "basis", "residual", "expected_uses")}
    return correct_lot(**writer, lot=lot, version=lot.version, **{**same, **changes})


def test_it_refuses_two_materials_of_one_name(writer, material):
    with pytest.raises(DomainError) as refused:
        add_material(**writer, name="shells")
    assert refused.value.field == "name"


@pytest.mark.parametrize("how", [How.SECOND_HAND, How.FROM_HOME, How.MADE])
def test_it_adds_a_lot_by_hand(writer, material, how):
    lot = acquire_lot(**writer, material=material, on=DAY, how=how, quantity=Decimal(30), basis=Decimal("6.00"))
    assert (lot.how, lot.basis, lot.quantity) == (how, Decimal("6.00"), Decimal(30))


def test_it_refuses_a_cost_for_what_was_given(writer, material):
    with pytest.raises(DomainError) as refused:
        acquire_lot(**writer, material=material, on=DAY, how=How.GIVEN, quantity=Decimal(1), basis=Decimal("1.00"))
    assert refused.value.field == "basis"


def test_it_asks_for_a_note_when_a_bought_lot_has_no_receipt(writer, material):
    given = {"material": material, "on": DAY, "how": How.BOUGHT, "quantity": Decimal(1), "basis": Decimal("9.00")}
    with pytest.raises(DomainError) as refused:
        acquire_lot(**writer, **given)
    assert refused.value.field == "note"
    assert acquire_lot(**writer, **given, note="Receipt lost, price from the shelf").pk


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("quantity", Decimal(0)),
        ("quantity", Decimal(-3)),
        ("basis", Decimal("-1.00")),
        ("residual", Decimal("7.00")),
        ("residual", Decimal("-0.01")),
        ("on", date(2025, 3, 13)),
    ],
)
def test_it_refuses_an_impossible_lot(writer, material, field, value):
    given = {"on": DAY, "how": How.MADE, "quantity": Decimal(1), "basis": Decimal("6.00"), field: value}
    with pytest.raises(DomainError) as refused:
        acquire_lot(**writer, material=material, **given)
    assert refused.value.field == field
    assert not Acquisition.objects.exists()


def test_it_refuses_a_lot_without_a_use(writer, material):
    with pytest.raises(DomainError):
        acquire_lot(**writer, material=material, on=DAY, how=How.MADE, quantity=Decimal(1), expected_uses=0)


def test_it_adds_a_lot_once_for_two_posts_of_one_form(writer, material):
    given = {"material": material, "on": DAY, "how": How.GIVEN, "quantity": Decimal(1), "submission_key": "k"}
    assert acquire_lot(**writer, **given) == acquire_lot(**writer, **given)


def test_it_refuses_a_lot_of_a_closed_year(writer, provider, material):
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        acquire_lot(**writer, material=material, on=date(2024, 12, 31), how=How.GIVEN, quantity=Decimal(1))


def test_it_refuses_a_material_of_another_business(writer):
    foreign = make_lot(make_provider()).material
    with pytest.raises(ForeignRow):
        acquire_lot(**writer, material=foreign, on=DAY, how=How.GIVEN, quantity=Decimal(1))


def test_another_service_adds_a_lot_of_a_new_material_by_name(writer, provider, owner):
    with writing(provider, owner) as desk:
        lot = acquire(desk, material=" Felt ", on=DAY, how=How.BOUGHT, quantity=Decimal(4), basis=Decimal("3.20"))
    assert (lot.material.name, lot.material.keeping) == ("Felt", Keeping.DURABLE)


def test_another_service_finds_the_material_of_that_name(writer, provider, owner, material):
    with writing(provider, owner) as desk:
        lot = acquire(desk, material="SHELLS", on=DAY, how=How.BOUGHT, quantity=Decimal(4))
    assert lot.material == material


def test_a_corrected_receipt_changes_the_basis_of_its_lot(provider, owner, lot, on_receipt):
    with writing(provider, owner) as desk:
        amend(desk, lot, basis=Decimal("40.00"))
    assert Acquisition.objects.get().basis == Decimal("40.00")


def test_a_voided_receipt_cannot_take_away_a_lot_that_lay_out(provider, owner, lot, place):
    place()
    with writing(provider, owner) as desk, pytest.raises(DomainError):
        withdraw(desk, lot, reason="returned")


def test_it_corrects_a_lot(writer, lot):
    corrected = correct(writer, lot, quantity=Decimal(14), basis=Decimal("50.00"))
    assert (corrected.quantity, corrected.basis, corrected.version) == (Decimal(14), Decimal("50.00"), 2)


def test_it_questions_a_stale_correction(writer, lot):
    correct(writer, lot, quantity=Decimal(14))
    with pytest.raises(StaleRow):
        correct(writer, lot, quantity=Decimal(15))


def test_it_leaves_the_cost_of_a_lot_to_its_receipt(writer, lot, on_receipt):
    with pytest.raises(DomainError) as refused:
        correct(writer, lot, basis=Decimal("10.00"))
    assert refused.value.field == "basis"


def test_it_corrects_the_pieces_of_a_lot_with_a_receipt(writer, lot, on_receipt):
    assert correct(writer, lot, quantity=Decimal(11)).quantity == 11


def test_it_refuses_fewer_pieces_than_lay_out(writer, lot, place):
    place("10")
    with pytest.raises(DomainError) as refused:
        correct(writer, lot, quantity=Decimal(9))
    assert refused.value.field == "quantity"


def test_it_refuses_a_day_after_the_lot_lay_out(writer, provider, lot, place):
    place(run=make_run(provider, date(2025, 2, 1), date(2025, 3, 1)))
    with pytest.raises(DomainError) as refused:
        correct(writer, lot, on=date(2025, 3, 1))
    assert refused.value.field == "on"


def test_it_does_not_correct_a_lot_of_a_closed_year(writer, provider):
    lot = make_lot(provider, on=date(2024, 5, 5))
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        correct(writer, lot, on=DAY)


def test_it_voids_a_lot_that_never_lay_out(writer, provider, lot):
    void_lot(**writer, lot=lot, version=1, reason="entered twice")
    assert not lot_choices(provider).exists()


def test_it_does_not_void_a_lot_without_a_reason(writer, lot):
    with pytest.raises(DomainError) as refused:
        void_lot(**writer, lot=lot, version=1, reason=" ")
    assert refused.value.field == "reason"


def test_it_does_not_void_a_lot_that_lies_in_a_run(writer, lot, place):
    place()
    with pytest.raises(DomainError):
        void_lot(**writer, lot=lot, version=1, reason="mistake")


def test_it_does_not_void_a_lot_that_stands_on_a_receipt(writer, lot, on_receipt):
    with pytest.raises(DomainError):
        void_lot(**writer, lot=lot, version=1, reason="mistake")


def test_a_voided_receipt_lets_its_lot_be_voided(writer, lot, on_receipt):
    Receipt.objects.update(voided_at=on_receipt.created_at)
    assert void_lot(**writer, lot=lot, version=1, reason="mistake").voided_at


def test_it_does_not_correct_a_voided_lot(writer, lot):
    voided = void_lot(**writer, lot=lot, version=1, reason="mistake")
    with pytest.raises(DomainError):
        correct(writer, voided, quantity=Decimal(1))


def test_it_keeps_how_a_material_is_kept_once_it_lay_out(writer, lot, place):
    place()
    with pytest.raises(DomainError) as refused:
        change_material(**writer, material=lot.material, version=1, name="Sand", keeping=Keeping.CONSUMABLE, unit="bag")
    assert refused.value.field == "keeping"


def test_it_changes_where_a_material_is_kept(writer, lot, place):
    place()
    change_material(
        **writer, material=lot.material, version=1, name="Bricks", keeping=Keeping.DURABLE, unit="piece", place="Bin 4"
    )
    assert Material.objects.get().place == "Bin 4"


def test_a_lot_of_a_run_to_come_is_not_used_yet(provider, lot, place):
    place(run=make_run(provider, date(2025, 5, 1), date(2025, 6, 1)))
    (view,) = lot_views([lot], TODAY)
    assert (view.life.uses, view.value_left, view.lying) == (0, Decimal("48.00"), ())


def test_a_lot_that_lies_out_has_borne_one_use(lot, place, run):
    placement = place()
    (view,) = lot_views([lot], TODAY)
    assert (view.life.uses, view.value_left, view.lying) == (1, Decimal("36.00"), (placement,))


def test_it_adds_up_what_is_on_hand_over_all_lots(provider, lot):
    make_lot(provider, material=lot.material, quantity=Decimal(3))
    assert on_hand_of([lot.material]) == {lot.material_id: 15}


def test_it_looks_at_any_number_of_lots_with_three_queries(provider, lot, place, django_assert_num_queries):
    place()
    lots = [lot, *(make_lot(provider) for _ in range(3))]
    with django_assert_num_queries(3):
        lot_views(lots, TODAY)


def test_it_offers_only_lots_that_can_lie_in_the_run(provider, run, lot, place):
    there = make_lot(provider)
    place("1", lot=there)
    make_lot(provider, on=run.end)
    make_lot(make_provider())
    assert list(lots_to_place(run)) == [lot]


def test_it_finds_a_lot_by_the_words_of_its_material(writer, provider, run, lot):
    change_material(
        **writer, material=lot.material, version=1, name="Net bags", keeping=Keeping.DURABLE, unit="bag", place="Bin 4"
    )
    make_lot(provider)
    assert list(lots_to_place(run, "bin net")) == [lot]


def test_a_taken_out_lot_is_whole_again(lot, place):
    place(voided_at="2025-03-02 12:00Z")
    assert stock_of(lot).spreads == ()
