"""Sales tax and discounts spread over the lines of a receipt.

No printed case was found. Method: pro rata over the taxable lines, then largest remainder, a reasonable allocation in
the sense of Treasury Regulation 1.263(a)-1(f)(3)(i), whose wording is FROM MEMORY; figures computed by hand.
The delivery case (5 computers at 2,495 with 50 of delivery make 2,505 each) was read second-hand.
"""

from decimal import Decimal

from billing.splitting import ReceiptLine, allocate
from provider.money import split


def lines(*printed):
    return [ReceiptLine(Decimal(amount), taxable) for amount, taxable in printed]


def test_tax_of_1_24_falls_on_the_two_taxable_lines():
    costs = allocate(
        lines(("10.00", True), ("5.49", True), ("3.29", False)), total=Decimal("20.02"), tax=Decimal("1.24")
    )
    assert [line.tax_share for line in costs] == [Decimal("0.80"), Decimal("0.44"), Decimal("0.00")]


def test_tax_of_0_80_on_three_equal_lines_leaves_the_last_a_cent_short():
    costs = allocate(lines(*[("3.33", True)] * 3), total=Decimal("10.79"), tax=Decimal("0.80"))
    assert [line.tax_share for line in costs] == [Decimal("0.27"), Decimal("0.27"), Decimal("0.26")]


def test_a_coupon_of_2_00_on_the_whole_receipt_falls_on_every_line():
    costs = allocate(
        lines(("10.00", False), ("6.00", True), ("4.00", True)), total=Decimal("18.00"), discount=Decimal("2.00")
    )
    assert [line.discount_share for line in costs] == [Decimal("1.00"), Decimal("0.60"), Decimal("0.40")]


def test_delivery_of_50_adds_10_to_each_of_five_equal_things():
    delivery = split(Decimal("50.00"), [Decimal("2495.00")] * 5)
    assert [Decimal("2495.00") + share for share in delivery] == [Decimal("2505.00")] * 5
