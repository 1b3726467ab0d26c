"""What the theme runs to come will probably cost. A guess from the last time and the plan, never a booked figure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any

from curriculum.stock import Spread, Stock
from provider.money import ZERO


@dataclass(frozen=True, slots=True)
class Planned:
    """A run to come, in money.

    `reuse`: reuse charges of the lots that will lie out; `recorded`: supplies already charged to it or laid out;
    `to_buy`: estimates of what is still on its list; `last_supplies`: what the run before it used up or was charged,
    None when there was none.
    """

    run: Any
    start: date
    reuse: Decimal = ZERO
    recorded: Decimal = ZERO
    to_buy: Decimal = ZERO
    last_supplies: Decimal | None = None

    @property
    def as_last_time(self) -> Decimal:
        """Supplies as last time, as far as they are neither recorded nor on the list yet."""
        return max((self.last_supplies or ZERO) - self.recorded - self.to_buy, ZERO)

    @property
    def total(self) -> Decimal:
        return self.reuse + self.recorded + self.to_buy + self.as_last_time


@dataclass(frozen=True, slots=True)
class Month:
    """The runs that start in the month whose first day is `first`."""

    first: date
    runs: tuple[Planned, ...]

    @property
    def total(self) -> Decimal:
        return sum((run.total for run in self.runs), ZERO)


def by_month(planned: Iterable[Planned]) -> tuple[Month, ...]:
    """The runs month by month, in order. The totals of the months add up to those of the runs."""
    ordered = sorted(planned, key=lambda run: run.start)
    return tuple(Month(first, tuple(runs)) for first, runs in groupby(ordered, lambda run: run.start.replace(day=1)))


def charges_to_come(
    stock: Stock, coming: Sequence[tuple[Any, date]], *, basis: Decimal, expected_uses: int, residual: Decimal = ZERO
) -> dict[Any, Decimal]:
    """The reuse charge of a durable lot in each of the `coming` runs (id and start), if it lies out in all of them.

    Runs in which it is already placed keep their placement. A lot that is gone, or has borne its base, charges nothing.
    """
    there = stock.on_hand
    known = {spread.run for spread in stock.spreads}
    more = tuple(Spread(run, start, there) for run, start in coming if run not in known) if there else ()
    life = replace(stock, spreads=(*stock.spreads, *more)).life(basis, expected_uses, residual)
    wanted = {run for run, _start in coming}
    return {each.run: each.charge for each in life.runs if each.run in wanted}
