"""What a theme run cost: the parts by kind, per enrolled child and per day attended, and runs side by side.

A management figure. Every division adds up to the total exactly.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from provider.money import ZERO, round_half_up, split


class Kind(StrEnum):
    CHARGED = "charged"
    """Business part of receipt lines charged straight to the run."""
    ISSUED = "issued"
    """Consumables taken from the shelf."""
    REUSE = "reuse"
    """Reuse charges of durable lots placed in the run."""
    WRITE_OFF = "write_off"
    """Value lost to broken and missing pieces."""
    MADE = "made"
    """Components of home-made items; never the hours."""


@dataclass(frozen=True, slots=True)
class Cost:
    """One amount borne by the run. `source` is whatever the caller needs to link back to it."""

    kind: Kind
    label: str
    amount: Decimal
    source: Any = None


@dataclass(frozen=True, slots=True)
class RunCost:
    """A run's cost. `per_child` divides it equally among the enrolled, `per_attended` by their days attended.

    The averages are rounded figures to show, None where nobody was enrolled or attended.
    """

    costs: tuple[Cost, ...]
    by_kind: Mapping[Kind, Decimal]
    total: Decimal
    per_child: Mapping[Any, Decimal]
    per_attended: Mapping[Any, Decimal]
    average_per_child: Decimal | None
    average_per_day: Decimal | None


@dataclass(frozen=True, slots=True)
class RunBeside:
    """A run beside others: `change` from the one before it (None for the first), `bar` its length from 0 to 1."""

    run: Any
    cost: RunCost
    change: Decimal | None
    bar: Decimal


def run_cost(
    costs: Sequence[Cost], *, enrolled: Sequence[Hashable] = (), days_attended: Mapping[Any, int] | None = None
) -> RunCost:
    """Add up a run and divide it among its children.

    `enrolled` are the ids of the children enrolled during the run, each once; odd cents go to the first of them.
    `days_attended` maps a child's id to the days it came. ValueError for a child listed twice or negative days.
    """
    if len(set(enrolled)) != len(enrolled):
        raise ValueError("a child is listed twice")
    days = {child: count for child, count in (days_attended or {}).items() if count}
    total = sum((cost.amount for cost in costs), ZERO)
    all_days = sum(days.values())
    return RunCost(
        costs=tuple(costs),
        by_kind={kind: sum((cost.amount for cost in costs if cost.kind is kind), ZERO) for kind in Kind},
        total=total,
        per_child=_divided(total, dict.fromkeys(enrolled, 1)),
        per_attended=_divided(total, days),
        average_per_child=round_half_up(total / len(enrolled)) if enrolled else None,
        average_per_day=round_half_up(total / all_days) if all_days else None,
    )


def compare(runs: Sequence[tuple[Any, RunCost]]) -> tuple[RunBeside, ...]:
    """Runs side by side in the order given; the dearest has a bar of 1, a run that cost nothing one of 0."""
    longest = max((cost.total for _, cost in runs), default=ZERO)
    befores: list[Decimal | None] = [None, *(cost.total for _, cost in runs)]
    return tuple(
        RunBeside(
            run,
            cost,
            None if before is None else cost.total - before,
            round_half_up(max(cost.total, ZERO) / longest, 4) if longest > 0 else ZERO,
        )
        for (run, cost), before in zip(runs, befores, strict=False)
    )


def _divided(total: Decimal, weights: Mapping[Any, int]) -> dict[Any, Decimal]:
    return dict(zip(weights, split(total, list(weights.values())), strict=True)) if weights else {}
