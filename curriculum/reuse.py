"""Reuse charges: what a durable lot costs each theme run it was placed in, by units of use.

Each run takes (value left - residual) / uses left, rounded to the cent, so that the charges reach the base exactly at
the last expected use and never pass it; further uses are free. What is lost takes its share of the value left, residual
included, and gives it to the run that lost it. A management figure, not a tax deduction.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from curriculum.costing import Used
from provider.money import ZERO, cents, format_money, round_half_up
from provider.steps import Step, figure, gettext_noop


class TooManyLost(ValueError):
    """A run lost more pieces than the lot still had. `run` is its id, `held` the pieces before it."""

    def __init__(self, run: Hashable, held: Decimal) -> None:
        super().__init__(f"run {run} lost more than the {held} pieces that were left")
        self.run = run
        self.held = held


@dataclass(frozen=True, slots=True)
class Lot:
    """What a durable lot cost and is expected to bear. `residual` is the value it should still have at the end.

    ValueError: a negative basis, a residual outside 0 to basis, fewer than one expected use, no pieces.
    """

    basis: Decimal
    expected_uses: int
    quantity: Decimal | int = 1
    residual: Decimal = ZERO

    def __post_init__(self) -> None:
        if not 0 <= cents(self.residual) <= cents(self.basis):
            raise ValueError("the residual lies between zero and the basis")
        if self.expected_uses < 1:
            raise ValueError("a lot is expected to be used at least once")
        if self.quantity <= 0:
            raise ValueError("a lot has at least one piece")


@dataclass(frozen=True, slots=True)
class Use:
    """One run the lot was placed in, with the pieces broken and missing when it was put away.

    `run` is any id that sorts; the same run twice (two centres) is one use and its losses add up.
    """

    run: Any
    started: date
    broken: Decimal | int = 0
    missing: Decimal | int = 0


@dataclass(frozen=True, slots=True)
class RunReuse:
    """What one run bears, and how the lot stands after it. `number` counts the uses from 1."""

    run: Any
    started: date
    number: int
    charge: Decimal
    write_off: Decimal
    value_left: Decimal
    pieces_left: Decimal
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class LotReuse:
    runs: tuple[RunReuse, ...]
    charged: Decimal
    written_off: Decimal
    value_left: Decimal
    pieces_left: Decimal
    moved: Decimal = ZERO
    """Value that went into something home-made."""

    @property
    def uses(self) -> int:
        return len(self.runs)

    def of_run(self, run: Any) -> RunReuse | None:
        return next((each for each in self.runs if each.run == run), None)


def lot_reuse(lot: Lot, uses: Sequence[Use], used: Sequence[Used] = ()) -> LotReuse:
    """The lot's life so far, run by run in order of start and id, whatever order `uses` come in.

    Pieces `used` for something home-made take their cost with them on their day, after a run that starts on it.
    charged + written_off + moved + value_left = basis, always. Raises TooManyLost; ValueError for a negative loss.
    """
    value, residual, pieces = lot.basis, lot.residual, Decimal(lot.quantity)
    leaving = sorted(used, key=lambda each: (each.on, each.making))
    spoken_for = sum((each.cost for each in leaving), ZERO)
    runs: list[RunReuse] = []

    def leave(before: date | None) -> None:
        nonlocal value, residual, pieces, spoken_for
        while leaving and (before is None or leaving[0].on < before):
            each = leaving.pop(0)
            value, spoken_for = value - each.cost, spoken_for - each.cost
            residual = min(value, round_half_up(residual * (pieces - each.quantity) / pieces))
            pieces -= each.quantity

    for number, use in enumerate(_in_order(uses), start=1):
        leave(use.started)
        uses_left = lot.expected_uses - number + 1
        steps: list[Step] = []
        charge = write_off = ZERO
        if uses_left > 0 and value > residual:
            charge = min(round_half_up((value - residual) / uses_left), value - spoken_for)
            left = format_money(value - residual)
            steps.append(Step(gettext_noop("Reuse charge"), f"{left} ÷ {uses_left}", charge))
        value -= charge
        lost = Decimal(use.broken) + Decimal(use.missing)
        if lost > pieces:
            raise TooManyLost(use.run, pieces)
        if lost and value:
            write_off = min(round_half_up(value * lost / pieces), value - spoken_for)
            expression = f"{format_money(value)} × {figure(lost)} ÷ {figure(pieces)}"
            steps.append(Step(gettext_noop("Written off for lost pieces"), expression, write_off))
            value -= write_off
            residual = min(value, round_half_up(residual * (pieces - lost) / pieces))
        pieces -= lost
        runs.append(RunReuse(use.run, use.started, number, charge, write_off, value, pieces, tuple(steps)))
    leave(None)
    return LotReuse(
        tuple(runs),
        sum((run.charge for run in runs), ZERO),
        sum((run.write_off for run in runs), ZERO),
        value,
        pieces,
        sum((each.cost for each in used), ZERO),
    )


def _in_order(uses: Sequence[Use]) -> list[Use]:
    by_run: dict[Any, Use] = {}
    for use in uses:
        if use.broken < 0 or use.missing < 0:
            raise ValueError("a loss cannot be negative")
        same = by_run.get(use.run, Use(use.run, use.started))
        by_run[use.run] = Use(
            use.run, min(same.started, use.started), same.broken + use.broken, same.missing + use.missing
        )
    return sorted(by_run.values(), key=lambda use: (use.started, use.run))
