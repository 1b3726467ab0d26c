from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from billing.splitting import (
    DiscountTooLarge,
    NoLines,
    NothingTaxable,
    ReceiptLine,
    TotalsDisagree,
    allocate,
    business_part,
    split_line,
    tenders_agree,
)
from provider.money import from_cents


def receipt(*amounts, taxable=True):
    return [ReceiptLine(Decimal(amount), taxable) for amount in amounts]


def costs(lines, **totals):
    return [str(line.cost) for line in allocate(lines, **{name: Decimal(text) for name, text in totals.items()})]


money = st.integers(1, 50_000).map(from_cents)
line_lists = st.lists(st.builds(ReceiptLine, money, st.booleans()), min_size=1, max_size=10)


@given(line_lists, st.integers(0, 10_000).map(from_cents), st.integers(0, 5_000).map(from_cents))
def test_line_costs_add_up_to_the_total(lines, discount, tax):
    whole = sum(line.amount for line in lines)
    assume(discount <= whole and (not tax or any(line.taxable for line in lines)))
    total = whole - discount + tax
    assert sum(line.cost for line in allocate(lines, total=total, tax=tax, discount=discount)) == total


@given(line_lists, st.integers(0, 5_000).map(from_cents))
def test_a_return_mirrors_its_purchase(lines, tax):
    assume(not tax or any(line.taxable for line in lines))
    total = sum(line.amount for line in lines) + tax
    returned = [ReceiptLine(-line.amount, line.taxable) for line in lines]
    bought = allocate(lines, total=total, tax=tax)
    assert [line.cost for line in allocate(returned, total=-total, tax=-tax)] == [-line.cost for line in bought]


def test_only_taxable_lines_carry_tax():
    lines = [ReceiptLine(Decimal("10.00")), ReceiptLine(Decimal("4.00"), taxable=False)]
    assert costs(lines, total="14.80", tax="0.80") == ["10.80", "4.00"]


def test_tax_follows_the_amount_after_the_discount():
    lines = [ReceiptLine(Decimal("10.00")), ReceiptLine(Decimal("10.00"), taxable=False)]
    assert costs(lines, total="18.72", tax="0.72", discount="2.00") == ["9.72", "9.00"]


def test_a_line_taken_back_takes_back_its_tax():
    assert costs(receipt("40.00", "-20.00"), total="21.60", tax="1.60") == ["43.20", "-21.60"]


def test_an_almost_even_exchange_leaves_the_odd_tax_on_the_bought_line():
    assert costs(receipt("10.00", "-10.00"), total="0.01", tax="0.01") == ["10.01", "-10.00"]


def test_tax_on_goods_that_a_coupon_paid_for_stays_with_them():
    assert costs(receipt("6.00", "4.00"), total="0.80", tax="0.80", discount="10.00") == ["0.48", "0.32"]


def test_a_wrong_total_says_by_how_much():
    with pytest.raises(TotalsDisagree) as refusal:
        allocate(receipt("10.00", "5.00"), total=Decimal("16.49"), tax=Decimal("1.20"))
    assert refusal.value.difference == Decimal("0.29")


def test_a_total_too_small_is_off_by_a_negative_amount():
    with pytest.raises(TotalsDisagree) as refusal:
        allocate(receipt("10.00"), total=Decimal("9.00"))
    assert refusal.value.difference == Decimal("-1.00")


def test_tax_without_a_taxable_line_is_refused():
    with pytest.raises(NothingTaxable):
        allocate(receipt("10.00", taxable=False), total=Decimal("10.80"), tax=Decimal("0.80"))


def test_a_receipt_without_lines_is_refused():
    with pytest.raises(NoLines):
        allocate([], total=Decimal("0.00"))


@pytest.mark.parametrize("discount", ["10.01", "-1.00"])
def test_a_discount_beyond_the_lines_is_refused(discount):
    with pytest.raises(DiscountTooLarge):
        allocate(receipt("10.00"), total=Decimal("10.00") - Decimal(discount), discount=Decimal(discount))


@pytest.mark.parametrize("quantity", ["0", "-2"])
def test_a_quantity_must_be_above_zero(quantity):
    with pytest.raises(ValueError, match="quantity"):
        allocate([ReceiptLine(Decimal("5.00"), quantity=Decimal(quantity))], total=Decimal("5.00"))


def test_a_unit_cost_includes_the_tax():
    (line,) = allocate(
        [ReceiptLine(Decimal("10.00"), quantity=Decimal(3))], total=Decimal("10.80"), tax=Decimal("0.80")
    )
    assert line.unit_cost == Decimal("3.6000")


@given(st.integers(-100_000, 100_000).map(from_cents), st.integers(2, 12))
def test_a_split_line_adds_up_to_the_line(amount, parts):
    assert sum(split_line(amount, parts)) == amount


def test_a_line_is_not_split_into_one_part():
    with pytest.raises(ValueError):
        split_line(Decimal("5.00"), 1)


@given(st.integers(-100_000, 100_000).map(from_cents), st.decimals(0, 1, places=4))
def test_business_and_personal_parts_are_the_whole_line(cost, share):
    business, personal = business_part(cost, share)
    assert (business + personal, abs(business) <= abs(cost)) == (cost, True)


def test_the_business_part_is_rounded_half_up():
    assert business_part(Decimal("10.01"), Decimal("0.5")) == (Decimal("5.01"), Decimal("5.00"))


@pytest.mark.parametrize("share", ["-0.01", "1.01"])
def test_a_share_outside_zero_and_one_is_refused(share):
    with pytest.raises(ValueError, match="between 0 and 1"):
        business_part(Decimal("10.00"), Decimal(share))


@pytest.mark.parametrize(("tenders", "agree"), [(["10.00", "5.49"], True), (["10.00"], False), ([], False)])
def test_tenders_must_add_up_to_the_total(tenders, agree):
    assert tenders_agree(Decimal("15.49"), [Decimal(tender) for tender in tenders]) is agree
