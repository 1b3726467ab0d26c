"""The cost sheet of a theme run: what its lots have borne so far, and the way from the purchases to the cost.

Management figures, not the tax deduction. All amounts are money of two places and every sum is exact.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from curriculum.stock import Stock
from provider.money import ZERO, round_half_up, split
from provider.periods import DateSpan
from provider.steps import Step, gettext_noop


@dataclass(frozen=True, slots=True)
class LotShare:
    """How a lot's basis is spread at the end of one run: basis = before + charge + write_off + moved + left.

    `before` is what earlier runs bore, their write-offs included; `moved` went into home-made things by then. `use`
    counts the lot's runs from 1. `as_new` is what the pieces laid out would cost, had they been got anew for this run.
    """

    basis: Decimal
    use: int
    before: Decimal
    charge: Decimal
    write_off: Decimal
    moved: Decimal
    left: Decimal
    as_new: Decimal


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """From the purchases to the cost of the run by named differences. The steps add up to `reached`."""

    steps: tuple[Step, ...]
    cost: Decimal

    @property
    def reached(self) -> Decimal:
        return sum((step.result for step in self.steps), ZERO)

    @property
    def difference(self) -> Decimal:
        return self.cost - self.reached


@dataclass(frozen=True, slots=True)
class Portion:
    """`count` children who each bear `amount`; `days` is what each of them attended, None where days do not matter."""

    count: int
    days: int | None
    amount: Decimal

    @property
    def total(self) -> Decimal:
        return self.amount * self.count


def lot_shares(
    stock: Stock, basis: Decimal, expected_uses: int, residual: Decimal = ZERO
) -> Iterator[tuple[Any, LotShare]]:
    """What each run bears of a lot, in order of start and id. Raises what `Stock.life` raises."""
    before = ZERO
    for use, (run, started, charge, write_off, as_new) in enumerate(_borne(stock, basis, expected_uses, residual), 1):
        moved = sum((each.cost for each in stock.used if each.on < started), ZERO)
        left = basis - before - charge - write_off - moved
        yield run, LotShare(basis, use, before, charge, write_off, moved, left, as_new)
        before += charge + write_off


def _borne(stock: Stock, basis: Decimal, expected_uses: int, residual: Decimal) -> Iterator[tuple[Any, ...]]:
    if stock.is_consumable:
        issues = zip(stock.spreads, stock.issues(basis), strict=True)
        for spread, amount in sorted(issues, key=lambda each: (each[0].started, each[0].run)):
            yield spread.run, spread.started, amount, ZERO, amount
        return
    placed = {spread.run: spread.placed for spread in stock.spreads}
    for each in stock.life(basis, expected_uses, residual).runs:
        as_new = round_half_up(basis * placed[each.run] / stock.quantity)
        yield each.run, each.started, each.charge, each.write_off, as_new


def total_share(shares: Iterable[LotShare]) -> LotShare:
    """Lots added up; `use` is 0."""
    rows = list(shares)
    basis, before, charge, write_off, moved, left, as_new = (
        _sum(getattr(row, name) for row in rows)
        for name in ("basis", "before", "charge", "write_off", "moved", "left", "as_new")
    )
    return LotShare(basis, 0, before, charge, write_off, moved, left, as_new)


def reconcile(straight: Decimal, lots: Sequence[tuple[LotShare, Decimal | None]], cost: Decimal) -> Reconciliation:
    """Lead from the purchases to `cost`, that of the run.

    `straight` is the business part of receipt lines charged to the run; beside each lot's share stands the business
    part of the lot's own receipt lines, None when it came without a receipt.
    """
    bought = [(share, paid) for share, paid in lots if paid is not None]
    steps = (
        (gettext_noop("Receipt lines charged straight to the theme"), straight),
        (gettext_noop("Receipt lines of the lots that lay out"), _sum(paid for _share, paid in bought)),
        (gettext_noop("Lots without a receipt, at their value"), _sum(s.basis for s, paid in lots if paid is None)),
        (
            gettext_noop("Value of bought lots, less the business part of their lines"),
            _sum(share.basis - paid for share, paid in bought),
        ),
        (gettext_noop("Borne by earlier runs"), -_sum(share.before for share, _paid in lots)),
        (gettext_noop("Went into home-made things"), -_sum(share.moved for share, _paid in lots)),
        (gettext_noop("Left after this run, for later ones"), -_sum(share.left for share, _paid in lots)),
    )
    return Reconciliation(tuple(Step(label, "", amount) for label, amount in steps), cost)


def portions(amounts: Iterable[tuple[Decimal, int | None]]) -> tuple[Portion, ...]:
    """Gather children who bear the same amount for the same days, the dearest first; nobody is named."""
    counts: dict[tuple[Decimal, int | None], int] = {}
    for key in amounts:
        counts[key] = counts.get(key, 0) + 1
    ordered = sorted(counts.items(), key=lambda item: (item[0][0], item[0][1] or 0), reverse=True)
    return tuple(Portion(count, days, amount) for (amount, days), count in ordered)


def earned_within(span: DateSpan, lines: Iterable[tuple[DateSpan, Decimal]]) -> Decimal:
    """What invoice lines, each an amount for a closed span, earn within `span`: their amounts by calendar days."""
    earned = ZERO
    for covers, amount in lines:
        inside = covers.intersect(span)
        if inside:
            earned += split(amount, [inside.days, covers.days - inside.days])[0]
    return earned


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, ZERO)
