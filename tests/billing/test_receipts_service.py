from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from billing.models import Asset, Receipt, ReceiptLine, ShareBasis, ShareRule, Target, TaxBasis, Tender
from billing.services.receipts import (
    LineRefused,
    LinesDoNotAddUp,
    NewThing,
    TenderInput,
    correct_receipt,
    void_receipt,
)
from billing.services.years import choose_for_year
from curriculum.models import Acquisition, How, Material, Placement
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import AuditEntry, Provider, StoredFile
from tests.billing.slips import TODAY, filed, line, slip
from tests.factories import lock_year, make_asset, make_lot, make_making, make_provider, make_recipe, make_run

pytestmark = pytest.mark.django_db(transaction=True)

SHARED = {"share_rule": ShareRule.SHARED}
FIXED = {**SHARED, "share_basis": ShareBasis.FIXED, "share_reason": "Four of ten are in the playroom"}
NEW_BLOCKS = {"target": Target.LOT, "new": NewThing("Wooden blocks", expected_uses=6)}


@pytest.fixture
def provider() -> Provider:
    return make_provider()


def correct(row: Receipt, receipt: object, version: int | None = None) -> Receipt:
    return correct_receipt(
        provider=row.provider,
        actor=None,
        today=TODAY,
        receipt_public_id=row.public_id,
        version=row.version if version is None else version,
        receipt=receipt,  # type: ignore[arg-type]
    )


def void(row: Receipt, reason: str = "Entered twice") -> Receipt:
    return void_receipt(
        provider=row.provider,
        actor=None,
        today=TODAY,
        receipt_public_id=row.public_id,
        version=row.version,
        reason=reason,
    )


def costs(row: Receipt) -> list[str]:
    return [str(each.cost) for each in row.lines.order_by("position")]


def basis(lot: Acquisition) -> str:
    lot.refresh_from_db()
    return str(lot.basis)


def test_it_splits_tax_over_taxed_lines_and_the_discount_over_all(provider: Provider) -> None:
    row = filed(provider, slip("29.37", line("20.00"), line("10.00", taxable=False), discount="1.95", tax="1.32"))

    assert costs(row) == ["20.02", "9.35"]


def test_it_says_how_much_is_missing_on_the_lines(provider: Provider) -> None:
    with pytest.raises(LinesDoNotAddUp) as refused:
        filed(provider, slip("42.10", line("41.10")))

    assert refused.value.message == "The lines come to 41.10; the receipt says 42.10: 1.00 is missing."
    assert refused.value.field == "total"
    assert not Receipt.objects.exists()


def test_it_says_how_much_the_lines_are_too_much(provider: Provider) -> None:
    with pytest.raises(LinesDoNotAddUp, match=r"42\.10: 1\.00 too much"):
        filed(provider, slip("42.10", line("43.10")))


@pytest.mark.parametrize("quantity", ["-1", "0"])
def test_it_refuses_a_quantity_that_is_not_above_zero(provider: Provider, quantity: str) -> None:
    with pytest.raises(LineRefused) as refused:
        filed(provider, slip("12.00", line("10.00"), line("2.00", quantity=Decimal(quantity))))

    assert (refused.value.index, refused.value.field) == (1, "quantity")


@pytest.mark.parametrize("field", ["bill_date", "paid_date"])
@pytest.mark.parametrize("day", [date(2025, 3, 15), date(1989, 12, 31)])
def test_it_refuses_a_day_to_come_and_one_before_1990(provider: Provider, field: str, day: date) -> None:
    with pytest.raises(DomainError) as refused:
        filed(provider, slip("12.00", line("12.00"), **{field: day}))

    assert refused.value.field == field


def test_it_refuses_a_date_in_a_closed_year_with_the_reason(provider: Provider) -> None:
    lock_year(provider, 2024)

    with pytest.raises(PeriodLocked, match="2024 is closed") as refused:
        filed(provider, slip("12.00", line("12.00"), bill_date=date(2024, 12, 30)))

    assert refused.value.field == "bill_date"


def test_it_records_a_year_that_has_no_tax_rules(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("12.00"), bill_date=date(1994, 5, 2)))

    assert costs(row) == ["12.00"]


def test_the_same_form_sent_twice_files_one_receipt(provider: Provider) -> None:
    first = filed(provider, slip("12.00", line("12.00")), submission_key="key")
    second = filed(provider, slip("12.00", line("12.00")), submission_key="key")

    assert first == second
    assert ReceiptLine.objects.count() == 1


def test_one_way_of_paying_takes_the_whole_total(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("12.00")))

    assert row.tenders.get().amount == Decimal("12.00")


def test_the_first_way_of_paying_takes_what_the_others_leave(provider: Provider) -> None:
    ways = [TenderInput("debit"), TenderInput("gift_card", Decimal("5.00"))]

    row = filed(provider, slip("12.00", line("12.00"), tenders=ways))

    assert list(row.tenders.order_by("pk").values_list("paid_by", "amount")) == [
        ("debit", Decimal("7.00")),
        ("gift_card", Decimal("5.00")),
    ]


@pytest.mark.parametrize("amounts", [["5.00", "6.00"], [None, "12.00"], [None, "15.00"], [None, None], []])
def test_it_refuses_ways_of_paying_that_do_not_make_the_total(provider: Provider, amounts: list[str | None]) -> None:
    ways = [TenderInput("cash", Decimal(amount) if amount else None) for amount in amounts]

    with pytest.raises(DomainError) as refused:
        filed(provider, slip("12.00", line("12.00"), tenders=ways))

    assert refused.value.field == "paid_by"
    assert not Tender.objects.exists()


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"category": "no_such_kind"}, "category"),
        ({"share_rule": ShareRule.PERSONAL, "target": Target.RUN, "target_id": "any"}, "target"),
        ({"target": Target.HOUSEHOLD}, "target"),
        ({"share_basis": ShareBasis.HOME}, "share_rule"),
        (SHARED, "share_basis"),
        ({**SHARED, "share_basis": ShareBasis.HOME, "share": Decimal("0.5")}, "share"),
        (FIXED, "share"),
        ({**FIXED, "share": Decimal("1.01")}, "share"),
        ({**FIXED, "share": Decimal("0.4"), "share_reason": " "}, "share_reason"),
        ({"target": Target.LOT, "new": NewThing(" ")}, "new_name"),
        ({"target": Target.LOT, "new": NewThing("Blocks", expected_uses=0)}, "new_uses"),
        ({"description": ""}, "description"),
    ],
)
def test_it_names_the_line_and_the_box_that_are_wrong(
    provider: Provider, fields: dict[str, object], field: str
) -> None:
    with pytest.raises(LineRefused) as refused:
        filed(provider, slip("12.00", line("10.00"), line("2.00", **fields)))

    assert (refused.value.index, refused.value.field) == (1, field)
    assert not Receipt.objects.exists()


@pytest.mark.parametrize(
    ("target", "make"), [(Target.RUN, make_run), (Target.LOT, make_lot), (Target.ASSET, make_asset)]
)
def test_it_refuses_targets_of_another_business(provider: Provider, target: Target, make: object) -> None:
    theirs = make(make_provider())  # type: ignore[operator]

    with pytest.raises(LineRefused) as refused:
        filed(provider, slip("12.00", line("12.00", target=target, target_id=theirs.public_id)))

    assert refused.value.field == "target"
    assert not Receipt.objects.exists()


def test_it_refuses_a_paper_of_another_business(provider: Provider) -> None:
    theirs = StoredFile.objects.create(provider=make_provider(), file="a/b.jpg", kind="image/jpeg", size=1, sha256="0")

    with pytest.raises(ForeignRow):
        filed(provider, slip("12.00", line("12.00"), paper=theirs.public_id))


def test_it_refuses_a_return_of_another_business(provider: Provider) -> None:
    theirs = filed(make_provider(), slip("12.00", line("12.00")))

    with pytest.raises(ForeignRow):
        filed(provider, slip("-12.00", line("-12.00")), return_of=theirs.public_id)


def test_it_refuses_tax_that_no_line_carries(provider: Provider) -> None:
    with pytest.raises(DomainError) as refused:
        filed(provider, slip("13.00", line("12.00", taxable=False), tax="1.00"))

    assert refused.value.field == "tax"


def test_it_refuses_a_discount_larger_than_the_lines(provider: Provider) -> None:
    with pytest.raises(DomainError) as refused:
        filed(provider, slip("1.00", line("12.00"), discount="13.00", tax="2.00"))

    assert refused.value.field == "discount"


def test_a_line_can_make_a_new_material_that_lasts(provider: Provider) -> None:
    filed(provider, slip("43.20", line("40.00", quantity=Decimal(2), **NEW_BLOCKS), tax="3.20"))

    lot = Acquisition.objects.get()
    assert (lot.material.name, lot.quantity, lot.basis, lot.expected_uses, lot.how, lot.source, lot.on) == (
        "Wooden blocks",
        Decimal("2.000"),
        Decimal("43.20"),
        6,
        How.BOUGHT,
        "Corner paper shop",
        TODAY,
    )


def test_a_new_lot_joins_a_material_of_the_same_name(provider: Provider) -> None:
    known = Material.objects.create(provider=provider, name="Wooden blocks")
    used = {"target": Target.LOT, "new": NewThing("wooden BLOCKS", second_hand=True)}

    filed(provider, slip("8.00", line("8.00", **used)))

    lot = Acquisition.objects.get()
    assert (lot.material, lot.how) == (known, How.SECOND_HAND)


def test_a_lot_made_by_a_recipe_is_paid_for_by_what_it_was_made_of(provider: Provider) -> None:
    lot = make_making(make_recipe(provider)).lot

    with pytest.raises(DomainError, match="made by a recipe"):
        filed(provider, slip("8.00", line("8.00", target=Target.LOT, target_id=lot.public_id)))


def test_a_split_line_makes_one_lot_at_its_business_part(provider: Provider) -> None:
    filed(
        provider, slip("30.00", line("20.00", **NEW_BLOCKS), line("10.00", **NEW_BLOCKS, **FIXED, share=Decimal("0.4")))
    )

    assert Acquisition.objects.get().basis == Decimal("24.00")


def test_an_existing_lot_takes_the_cost_of_its_lines(provider: Provider) -> None:
    lot = make_lot(provider, basis="0.00", how=How.BOUGHT)

    filed(provider, slip("9.00", line("9.00", target=Target.LOT, target_id=lot.public_id)))

    assert basis(lot) == "9.00"


def test_it_refuses_to_pay_for_what_was_given(provider: Provider) -> None:
    lot = make_lot(provider, basis="0.00", how=How.GIVEN)

    with pytest.raises(LineRefused, match="given"):
        filed(provider, slip("9.00", line("9.00", target=Target.LOT, target_id=lot.public_id)))


def test_a_lot_by_the_home_share_follows_that_share(provider: Provider) -> None:
    by_home = {**SHARED, "share_basis": ShareBasis.HOME}
    choice = {"provider": provider, "actor": None, "today": TODAY, "year": 2025, "basis": TaxBasis.CASH}
    choose_for_year(**choice, provisional_home_share=Decimal("0.2500"))
    filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS, **by_home)))
    lot = Acquisition.objects.get()
    assert basis(lot) == "10.00"

    choose_for_year(**choice, provisional_home_share=Decimal("0.3000"), version=1)

    assert basis(lot) == "12.00"


def test_a_lot_by_an_unknown_home_share_counts_whole_for_now(provider: Provider) -> None:
    filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS, **SHARED, share_basis=ShareBasis.HOME)))

    assert Acquisition.objects.get().basis == Decimal("40.00")


def test_a_line_can_make_a_new_asset_once(provider: Provider) -> None:
    table = {"target": Target.ASSET, "new": NewThing("Low table"), "category": "furniture_equipment"}

    filed(provider, slip("60.00", line("30.00", **table), line("30.00", **table)))

    asset = Asset.objects.get()
    assert (asset.name, asset.in_service_on, asset.receipt_lines.count()) == ("Low table", TODAY, 2)


def test_a_correction_costs_the_lines_again_and_says_what_changed(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("10.00"), line("2.00")))
    kept = row.lines.get(position=1).public_id

    correct(row, slip("11.00", line("10.00"), tax="1.00", shop="Paper mill"))

    assert (costs(row), row.lines.get().public_id) == (["11.00"], kept)
    changes = AuditEntry.objects.get(verb="correct").changes
    assert changes["shop"] == ["Corner paper shop", "Paper mill"]
    assert changes["total"] == ["12.00", "11.00"]
    assert changes["line 2"][1] is None


def test_a_stale_correction_is_questioned_and_changes_nothing(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("12.00")))
    correct(row, slip("13.00", line("13.00")))

    with pytest.raises(StaleRow):
        correct(row, slip("14.00", line("14.00")), version=1)

    assert Receipt.objects.get().total == Decimal("13.00")


def test_it_corrects_nothing_out_of_a_closed_year(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("12.00"), bill_date=date(2024, 12, 30)))
    lock_year(provider, 2024)

    with pytest.raises(PeriodLocked):
        correct(row, slip("12.00", line("12.00")))


def test_a_correction_writes_the_cost_of_its_lot_anew(provider: Provider) -> None:
    row = filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS)))
    lot = Acquisition.objects.get()

    correct(row, slip("44.00", line("44.00", target=Target.LOT, target_id=lot.public_id), bill_date=date(2025, 3, 10)))

    assert basis(lot) == "44.00"
    assert lot.on == date(2025, 3, 10)


def test_a_lot_that_no_line_pays_for_any_more_leaves_the_stock(provider: Provider) -> None:
    row = filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS)))

    correct(row, slip("40.00", line("40.00")))

    assert Acquisition.objects.get().voided_at


def test_an_older_lot_stays_when_a_correction_leaves_it(provider: Provider) -> None:
    lot = make_lot(provider)
    row = filed(provider, slip("9.00", line("9.00", target=Target.LOT, target_id=lot.public_id)))

    correct(row, slip("9.00", line("9.00")))

    assert basis(lot) == "0.00"
    assert lot.voided_at is None


def test_voiding_takes_the_receipt_and_its_lots_out_of_the_books(provider: Provider) -> None:
    row = filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS)))

    voided = void(row)

    assert (voided.void_reason, bool(voided.voided_at)) == ("Entered twice", True)
    assert Acquisition.objects.get().voided_at


def test_voiding_needs_a_reason(provider: Provider) -> None:
    row = filed(provider, slip("12.00", line("12.00")))

    with pytest.raises(DomainError) as refused:
        void(row, reason=" ")

    assert refused.value.field == "reason"


def test_it_does_not_void_a_receipt_whose_lot_lies_in_a_run(provider: Provider) -> None:
    row = filed(provider, slip("40.00", line("40.00", **NEW_BLOCKS)))
    Placement.objects.create(
        provider=provider, run=make_run(provider), lot=Acquisition.objects.get(), quantity=Decimal(1)
    )

    with pytest.raises(DomainError, match="lies in a run"):
        void(row)

    row.refresh_from_db()
    assert row.voided_at is None


def test_a_voided_receipt_cannot_be_corrected(provider: Provider) -> None:
    row = void(filed(provider, slip("12.00", line("12.00"))))

    with pytest.raises(DomainError, match="voided"):
        correct(row, slip("12.00", line("12.00")))


def test_a_return_points_back_and_takes_its_part_of_a_lot(provider: Provider) -> None:
    bought = filed(provider, slip("43.20", line("40.00", **NEW_BLOCKS), tax="3.20"))
    lot = Acquisition.objects.get()
    back = line("-10.00", target=Target.LOT, target_id=lot.public_id)

    row = filed(provider, slip("-10.80", back, tax="-0.80"), return_of=bought.public_id)

    assert (row.returns, costs(row), basis(lot)) == (bought, ["-10.80"], "32.40")


def test_a_return_may_not_exceed_what_was_bought(provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))
    filed(provider, slip("-8.00", line("-8.00")), return_of=bought.public_id)

    with pytest.raises(DomainError, match=r"\(13\.00\) than was paid \(12\.00\)"):
        filed(provider, slip("-5.00", line("-5.00")), return_of=bought.public_id)


def test_a_purchase_cannot_be_corrected_below_what_was_given_back(provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))
    filed(provider, slip("-8.00", line("-8.00")), return_of=bought.public_id)

    with pytest.raises(DomainError, match="More was given back"):
        correct(bought, slip("7.00", line("7.00")))


def test_a_return_may_not_take_back_more_of_a_lot_than_it_cost(provider: Provider) -> None:
    bought = filed(provider, slip("50.00", line("10.00", **NEW_BLOCKS), line("40.00")))
    back = line("-20.00", target=Target.LOT, target_id=Acquisition.objects.get().public_id)

    with pytest.raises(DomainError, match="Wooden blocks"):
        filed(provider, slip("-20.00", back), return_of=bought.public_id)


def test_a_return_is_not_older_than_its_purchase(provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))

    with pytest.raises(DomainError) as refused:
        filed(provider, slip("-5.00", line("-5.00"), bill_date=date(2025, 3, 1)), return_of=bought.public_id)

    assert refused.value.field == "bill_date"


def test_a_return_takes_nothing_back_from_a_return(provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))
    back = filed(provider, slip("-5.00", line("-5.00")), return_of=bought.public_id)

    with pytest.raises(DomainError, match="Only a purchase"):
        filed(provider, slip("-1.00", line("-1.00")), return_of=back.public_id)


def test_a_negative_total_without_a_purchase_is_refused(provider: Provider) -> None:
    with pytest.raises(DomainError) as refused:
        filed(provider, slip("-12.00", line("-12.00")))

    assert refused.value.field == "total"


def test_a_purchase_with_a_return_is_not_voided_first(provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))
    filed(provider, slip("-5.00", line("-5.00")), return_of=bought.public_id)

    with pytest.raises(DomainError, match="Void the return first"):
        void(bought)


def test_a_receipt_of_another_business_cannot_be_corrected(provider: Provider) -> None:
    theirs = filed(make_provider(), slip("12.00", line("12.00")))

    with pytest.raises(ForeignRow):
        correct(replace_provider(theirs, provider), slip("1.00", line("1.00")))


def replace_provider(row: Receipt, provider: Provider) -> Receipt:
    row.provider = provider
    return row


def test_every_line_adds_up_to_the_total_after_a_correction(provider: Provider) -> None:
    start = slip("10.01", line("3.33"), line("3.33"), line("3.34"), tax="0.01")
    row = filed(provider, start)

    correct(row, replace(start, total=Decimal("10.03"), tax=Decimal("0.03")))

    assert sum(each.cost for each in row.lines.all()) == Decimal("10.03")
