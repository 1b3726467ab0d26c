"""What is needed against what there is: which pieces meet a need, what is short, and what is left to buy."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Want:
    """A need of so many pieces of a material, in a centre or (None) anywhere. `key` is any id."""

    key: Any
    material: Any
    centre: Any
    quantity: Decimal


@dataclass(frozen=True, slots=True)
class Pieces:
    """So many pieces of a material that lie in a centre, or (with `lot`) are free to be laid out."""

    material: Any
    quantity: Decimal
    centre: Any = None
    lot: Any = None


@dataclass(frozen=True, slots=True)
class Met:
    """How a need is met: pieces that lie there, `takes` of lots to lay out yet, and what is `short` all the same."""

    placed: Decimal
    takes: tuple[tuple[Any, Decimal], ...]
    short: Decimal

    @property
    def to_lay_out(self) -> Decimal:
        return sum((quantity for _, quantity in self.takes), NOTHING)


def meet(wants: Sequence[Want], lying: Iterable[Pieces], free: Iterable[Pieces]) -> dict[Any, Met]:
    """How each want is met, by its key.

    What lies in a centre meets that centre's want first, what is over meets the wants of anywhere. `free` lots are
    taken in their order, want by want, each lot for one want only: a lot lies in one centre of a run.
    """
    there: dict[tuple[Any, Any], Decimal] = defaultdict(Decimal)
    for each in lying:
        there[each.material, each.centre] += each.quantity
    lots: dict[Any, list[Pieces]] = defaultdict(list)
    for each in free:
        if each.quantity > 0:
            lots[each.material].append(each)
    met: dict[Any, Met] = {}
    for want in sorted(wants, key=lambda each: each.centre is None):
        spots = [spot for spot in there if spot[0] == want.material and want.centre in (None, spot[1])]
        placed = NOTHING
        for spot in spots:
            part = min(there[spot], want.quantity - placed)
            there[spot] -= part
            placed += part
        takes, short = [], want.quantity - placed
        while short > 0 and lots[want.material]:
            lot = lots[want.material].pop(0)
            takes.append((lot.lot, min(lot.quantity, short)))
            short -= takes[-1][1]
        met[want.key] = Met(placed, tuple(takes), short)
    return met


def to_buy(needed: Decimal, have: Decimal, coming: Decimal = NOTHING) -> Decimal:
    """What is left to buy: `needed` minus what there is and what is on the list or on the way; never below nothing."""
    return max(needed - have - coming, NOTHING)
