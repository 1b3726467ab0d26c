"""Does a dose keep to its signed instruction? Words in, questions out; the person decides and says why."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from decimal import Decimal
from typing import Literal

Doubt = Literal["not_yet", "no_longer", "withdrawn", "amount", "most_per_day", "too_soon"]


@dataclass(frozen=True, slots=True)
class Instruction:
    """`amount` each time, `most_per_day` of a local day, `hours_between` two doses, on the days [start, end)."""

    amount: Decimal
    most_per_day: int
    hours_between: int
    start: date
    end: date
    withdrawn: bool = False


def doubts(
    instruction: Instruction, at: datetime, amount: Decimal, others: Collection[datetime], zone: tzinfo
) -> tuple[Doubt, ...]:
    """What speaks against a dose of `amount` at the aware instant `at`, beside the `others` of the instruction.

    A dose written down afterwards is held against later ones too. The day is the local one of `zone`; hours between
    are real hours, also across a change of the clocks.
    """
    day = at.astimezone(zone).date()
    same_day = sum(other.astimezone(zone).date() == day for other in others)
    gap = timedelta(hours=instruction.hours_between)
    found: dict[Doubt, bool] = {
        "not_yet": day < instruction.start,
        "no_longer": day >= instruction.end,
        "withdrawn": instruction.withdrawn,
        "amount": amount != instruction.amount,
        "most_per_day": same_day >= instruction.most_per_day,
        "too_soon": any(abs(at.astimezone(UTC) - other.astimezone(UTC)) < gap for other in others),
    }
    return tuple(doubt for doubt, holds in found.items() if holds)
