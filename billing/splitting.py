"""Store receipts to the cent: discounts and sales tax over the lines, split lines, business and personal parts.

Lines are signed; a return is a receipt with negative lines, total, tax and discount, and mirrors the purchase.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from provider.money import ZERO, cents, round_half_up, split


class NoLines(ValueError):
    """A receipt without lines."""


class TotalsDisagree(ValueError):
    """Lines, discount and tax do not reach the stated total. `difference` = stated total less what they add up to."""

    def __init__(self, difference: Decimal) -> None:
        super().__init__(f"the stated total is off by {difference}")
        self.difference = difference


class NothingTaxable(ValueError):
    """There is sales tax but no line to carry it. `tax` is the amount."""

    def __init__(self, tax: Decimal) -> None:
        super().__init__(f"no taxable line can carry the tax of {tax}")
        self.tax = tax


class DiscountTooLarge(ValueError):
    """The discount is more than the lines come to, or runs the other way. `discount` is the amount."""

    def __init__(self, discount: Decimal) -> None:
        super().__init__(f"the discount of {discount} does not fit the lines")
        self.discount = discount


@dataclass(frozen=True, slots=True)
class ReceiptLine:
    """`amount` is the whole line as printed, before a whole-receipt discount and tax."""

    amount: Decimal
    taxable: bool = True
    quantity: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class LineCost:
    """What a line really cost: `cost` = amount - discount_share + tax_share."""

    amount: Decimal
    discount_share: Decimal
    tax_share: Decimal
    cost: Decimal
    unit_cost: Decimal
    """Cost of one piece to four places; a display figure, never multiplied back."""


def allocate(
    lines: Sequence[ReceiptLine], *, total: Decimal, tax: Decimal = ZERO, discount: Decimal = ZERO
) -> tuple[LineCost, ...]:
    """Spread a whole-receipt discount over all lines by amount, then the tax over taxable lines by their net amount.

    `discount` is the amount taken off (positive on a purchase). The costs add up to `total` exactly.
    Raises NoLines, TotalsDisagree, DiscountTooLarge, NothingTaxable; ValueError for a quantity that is not above zero.
    """
    if not lines:
        raise NoLines("a receipt needs at least one line")
    if any(line.quantity <= 0 for line in lines):
        raise ValueError("a quantity must be above zero; a return has a negative amount")
    amounts = [line.amount for line in lines]
    whole = sum(amounts, ZERO)
    if total != whole - discount + tax:
        raise TotalsDisagree(total - (whole - discount + tax))
    if discount and not (0 < discount <= whole or whole <= discount < 0):
        raise DiscountTooLarge(discount)

    discounts = _spread(discount, amounts)
    nets = [amount - share for amount, share in zip(amounts, discounts, strict=True)]
    taxed = [net if line.taxable else ZERO for line, net in zip(lines, nets, strict=True)]
    if tax and not any(taxed):
        # A shop may tax the price before a coupon that pays for everything.
        taxed = [line.amount if line.taxable else ZERO for line in lines]
    if tax and not any(taxed):
        raise NothingTaxable(tax)
    taxes = _spread(tax, taxed)
    return tuple(
        LineCost(line.amount, discounted, taxed_by, net + taxed_by, round_half_up((net + taxed_by) / line.quantity, 4))
        for line, discounted, net, taxed_by in zip(lines, discounts, nets, taxes, strict=True)
    )


def split_line(amount: Decimal, parts: int) -> list[Decimal]:
    """A line cut into equal parts that add up to it, the odd cents in the first ones. ValueError under two parts."""
    if parts < 2:
        raise ValueError("a line is split into two parts or more")
    return split(amount, [1] * parts)


def business_part(cost: Decimal, share: Decimal) -> tuple[Decimal, Decimal]:
    """(business, personal) parts of a cost. `share` is a fraction of one; personal is what is left, never rounded."""
    if not 0 <= share <= 1:
        raise ValueError(f"a share lies between 0 and 1, not {share}")
    business = round_half_up(cost * share)
    return business, cost - business


def tenders_agree(total: Decimal, tenders: Sequence[Decimal]) -> bool:
    """Whether the ways it was paid add up to the receipt's total."""
    return sum(map(cents, tenders)) == cents(total)


def _spread(total: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """`money.split` for weights of either sign, so that a line taken back on a purchase takes back its tax.

    When buying and taking back nearly cancel out, the printed total says too little about the rate: then only the
    lines that run with the total share it.
    """
    if not total:
        return [ZERO] * len(weights)
    forth = [max(weight, ZERO) for weight in weights]
    back = [max(-weight, ZERO) for weight in weights]
    if sum(forth) < sum(back) or (sum(forth) == sum(back) and total < 0):
        forth, back = back, forth
    net, returned = sum(forth) - sum(back), sum(back)
    if not returned or abs(total) > net:
        return split(total, forth)
    total_back = round_half_up(total * returned / net)
    parts_forth, parts_back = split(total + total_back, forth), split(-total_back, back)
    return [one + other for one, other in zip(parts_forth, parts_back, strict=True)]
