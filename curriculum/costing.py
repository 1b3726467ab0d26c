"""What pieces taken from a stock cost: the oldest lot first, or at the average of what is on hand.

Quantities have three places. Totals are kept and unit costs derived from them; only what is posted is rounded, to the
cent. Pieces in canonical order are sorted by day, then by id.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any

from provider.money import ZERO, round_half_up, split

NONE = Decimal(0)


class Method(StrEnum):
    FIFO = "fifo"
    AVERAGE = "average"


class Short(ValueError):
    """More was wanted than there is; `missing` says how much."""

    def __init__(self, missing: Decimal) -> None:
        super().__init__(f"{missing} are missing")
        self.missing = missing


@dataclass(frozen=True, slots=True)
class Shelf:
    """What is left of a lot: `came` pieces cost `cost`, `left` of them can be taken and are worth `value`.

    `lot` is any id that sorts.
    """

    lot: Any
    on: date
    came: Decimal
    cost: Decimal
    left: Decimal
    value: Decimal

    def cost_of(self, quantity: Decimal) -> Decimal:
        """The lot's own cost of its next pieces; the last of them take all that is left."""
        after = max(self.left - quantity, NONE)
        return self.value - min(self.value, round_half_up(self.cost * after / self.came))


@dataclass(frozen=True, slots=True)
class Taken:
    """Pieces taken from a lot, and what they cost."""

    lot: Any
    quantity: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Used:
    """Pieces that went into something home-made on a day, and the cost that they took along."""

    making: Any
    on: date
    quantity: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Part:
    """Pieces that left a lot. What is `posted` stands; without it the cost follows from the quantities."""

    quantity: Decimal
    posted: Decimal | None = None


def take(method: Method, shelves: Iterable[Shelf], quantity: Decimal) -> tuple[Taken, ...]:
    """Take `quantity` pieces from lots in canonical order, whatever order they are given in. Raises Short.

    By the average nobody knows from which lot a piece came, so that every lot gives its part.
    ValueError for a quantity that is not above zero.
    """
    if quantity <= 0:
        raise ValueError("a taking is above zero")
    stock = sorted((shelf for shelf in shelves if shelf.left > 0), key=lambda shelf: (shelf.on, shelf.lot))
    held = on_shelves(stock)
    if quantity > held:
        raise Short(quantity - held)
    return _oldest(stock, quantity) if method is Method.FIFO else _average(stock, quantity)


def on_shelves(shelves: Iterable[Shelf]) -> Decimal:
    return sum((shelf.left for shelf in shelves), NONE)


def costs_of_parts(cost: Decimal, came: Decimal, parts: Sequence[Part]) -> list[Decimal]:
    """What each part of a lot costs, in the order they left it: of `came` pieces for `cost`.

    The costs reach `cost` exactly when all pieces are gone and never pass it. ValueError for a negative part.
    """
    if any(part.quantity < 0 for part in parts):
        raise ValueError("a negative quantity cannot be taken")
    free = cost - sum((part.posted for part in parts if part.posted is not None), ZERO)
    costs: list[Decimal] = []
    gone, borne = NONE, ZERO
    for part in parts:
        gone = min(gone + part.quantity, came)
        if part.posted is not None:
            costs.append(part.posted)
        else:
            costs.append(min(max(round_half_up(cost * gone / came) - borne, ZERO), free))
            free -= costs[-1]
        borne += costs[-1]
    last = max((index for index, part in enumerate(parts) if part.posted is None and part.quantity), default=None)
    if gone == came and free and last is not None:
        costs[last] += free
    return costs


def _oldest(stock: Sequence[Shelf], quantity: Decimal) -> tuple[Taken, ...]:
    taken = []
    for shelf in stock:
        if quantity <= 0:
            break
        part = min(quantity, shelf.left)
        taken.append(Taken(shelf.lot, part, shelf.cost_of(part)))
        quantity -= part
    return tuple(taken)


def _average(stock: Sequence[Shelf], quantity: Decimal) -> tuple[Taken, ...]:
    pieces = _thousandths(quantity, stock)
    if not all(pieces):
        # A lot too small to give a thousandth of a piece gives no cent either.
        return _average([shelf for shelf, part in zip(stock, pieces, strict=True) if part], quantity)
    value = sum((shelf.value for shelf in stock), ZERO)
    total = round_half_up(value * quantity / on_shelves(stock))
    costs = split(total, [shelf.value for shelf in stock]) if total else [ZERO] * len(stock)
    return tuple(Taken(shelf.lot, part, cost) for shelf, part, cost in zip(stock, pieces, costs, strict=True))


def _thousandths(quantity: Decimal, stock: Sequence[Shelf]) -> list[Decimal]:
    # `split` works to two places, quantities have three.
    return [part.scaleb(-1) for part in split(quantity.scaleb(1), [shelf.left for shelf in stock])]
