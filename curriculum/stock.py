"""How many pieces of a lot are left, where they are spread and what they are still worth.

Put-away counts may be entered in any order: the quantities come out the same.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from curriculum.costing import Part, Shelf, Used, costs_of_parts
from curriculum.reuse import Lot, LotReuse, Use, lot_reuse
from provider.money import ZERO, round_half_up

NOTHING = Decimal(0)


class NotSoMany(ValueError):
    """More pieces were counted than there were. `held` is how many there were."""

    def __init__(self, held: Decimal) -> None:
        super().__init__(f"there were only {held} pieces")
        self.held = held


@dataclass(frozen=True, slots=True)
class Count:
    """One put-away count, in pieces: what was `returned` stays in the lot, the rest leaves it. ValueError below 0."""

    returned: Decimal = NOTHING
    broken: Decimal = NOTHING
    missing: Decimal = NOTHING
    used_up: Decimal = NOTHING

    def __post_init__(self) -> None:
        if min(self.returned, self.broken, self.missing, self.used_up) < 0:
            raise ValueError("a count cannot be negative")

    @property
    def gone(self) -> Decimal:
        return self.broken + self.missing + self.used_up

    @property
    def total(self) -> Decimal:
        return self.returned + self.gone


def on_hand(quantity: Decimal, counts: Iterable[Count], used: Iterable[Used] = ()) -> Decimal:
    """Pieces of a lot of `quantity` that are still there. NotSoMany when more are gone than came."""
    gone = sum((count.gone for count in counts), NOTHING) + sum((each.quantity for each in used), NOTHING)
    if gone > quantity:
        raise NotSoMany(quantity)
    return quantity - gone


def whole_sets(pieces: Decimal, in_a_set: int) -> tuple[int, Decimal]:
    """Whole sets that `pieces` make, and the pieces left over. ValueError when a set has no piece."""
    if in_a_set < 1:
        raise ValueError("a set has at least one piece")
    sets, rest = divmod(pieces, in_a_set)
    return int(sets), rest


@dataclass(frozen=True, slots=True)
class Spread:
    """Pieces of a lot laid out in a run, and the counts made so far. `run` is any id that sorts."""

    run: Any
    started: date
    placed: Decimal
    counts: tuple[Count, ...] = ()

    @property
    def gone(self) -> Decimal:
        return sum((count.gone for count in self.counts), NOTHING)

    @property
    def still_out(self) -> Decimal:
        """Pieces that nobody has counted yet. NotSoMany when more were counted than lay out."""
        counted = sum((count.total for count in self.counts), NOTHING)
        if counted > self.placed:
            raise NotSoMany(self.placed)
        return self.placed - counted


@dataclass(frozen=True, slots=True)
class Stock:
    """A lot with all its spreads, and what of it was `used` for something home-made.

    A durable piece may be laid out in the next run before it is back from this one; a consumable piece only once.
    """

    quantity: Decimal
    is_consumable: bool = False
    spreads: tuple[Spread, ...] = field(default=())
    used: tuple[Used, ...] = field(default=())

    @property
    def on_hand(self) -> Decimal:
        return on_hand(self.quantity, (count for spread in self.spreads for count in spread.counts), self.used)

    @property
    def free(self) -> Decimal:
        """Pieces that can be laid out in one more run. NotSoMany when they are spoken for twice."""
        if not self.is_consumable:
            return self.on_hand
        spoken_for = sum((spread.still_out for spread in self.spreads), NOTHING)
        if spoken_for > self.on_hand:
            raise NotSoMany(self.on_hand)
        return self.on_hand - spoken_for

    @property
    def is_possible(self) -> bool:
        """Whether the facts agree: nothing laid out that never came, nothing counted or spoken for twice."""
        try:
            return self.free >= 0 and all(spread.still_out <= spread.placed <= self.quantity for spread in self.spreads)
        except NotSoMany:
            return False

    @property
    def covers_its_runs(self) -> bool:
        """Whether each run found as many pieces as it laid out: those on hand, and those gone in it or later."""
        return all(
            spread.placed
            <= self.on_hand + sum((each.gone for each in self.spreads if each.started >= spread.started), NOTHING)
            for spread in self.spreads
        )

    def life(self, basis: Decimal, expected_uses: int, residual: Decimal = ZERO) -> LotReuse:
        """The reuse charges of a durable lot, one use for each run it was laid out in."""
        uses = [
            Use(
                spread.run,
                spread.started,
                sum((count.broken for count in spread.counts), NOTHING),
                sum((count.missing for count in spread.counts), NOTHING),
            )
            for spread in self.spreads
        ]
        return lot_reuse(Lot(basis, expected_uses, self.quantity, residual), uses, self.used)

    def issues(self, basis: Decimal) -> list[Decimal]:
        """What each spread of a consumable lot takes of its `basis`: what lies out is issued; once it was counted, only
        what did not come back."""
        return self._issued(basis, [spread.still_out + spread.gone for spread in self.spreads])

    def value_left(self, basis: Decimal, expected_uses: int, residual: Decimal = ZERO) -> Decimal:
        """What the lot is still worth: the part of its basis that no run has borne."""
        if self.is_consumable:
            return self._rest(basis, [spread.gone for spread in self.spreads])
        return self.life(basis, expected_uses, residual).value_left

    def shelf(
        self, lot: Any, came_on: date, day: date, basis: Decimal, expected_uses: int, residual: Decimal = ZERO
    ) -> Shelf:
        """What of the lot with id `lot` can go into something home-made on `day`, and what that is worth.

        What lies out, or is to lie out, of a consumable lot is issued; of a durable lot what lies out is left alone.
        """
        if self.is_consumable:
            value = self._rest(basis, [spread.still_out + spread.gone for spread in self.spreads])
            return Shelf(lot, came_on, self.quantity, basis, self.free, value)
        held = self.on_hand
        so_far = replace(self, spreads=tuple(spread for spread in self.spreads if spread.started <= day))
        value = so_far.value_left(basis, expected_uses, residual)
        idle = max(held - max((spread.still_out for spread in so_far.spreads), default=NOTHING), NOTHING)
        return Shelf(lot, came_on, held, value, idle, round_half_up(value * idle / held) if held else ZERO)

    def _rest(self, basis: Decimal, pieces: Sequence[Decimal]) -> Decimal:
        moved = sum((each.cost for each in self.used), ZERO)
        return basis - moved - sum(self._issued(basis, pieces), ZERO)

    def _issued(self, basis: Decimal, pieces: Sequence[Decimal]) -> list[Decimal]:
        """What each spread takes of `basis` for its `pieces`, in order of day, a run before a making."""
        takings = [
            ((spread.started, 0, spread.run), index, Part(number))
            for index, (spread, number) in enumerate(zip(self.spreads, pieces, strict=True))
        ] + [((each.on, 1, each.making), None, Part(each.quantity, each.cost)) for each in self.used]
        takings.sort(key=lambda taking: taking[0])
        costs = costs_of_parts(basis, self.quantity, [part for *_, part in takings])
        by_spread = {index: cost for (_, index, _part), cost in zip(takings, costs, strict=True)}
        return [by_spread[index] for index in range(len(self.spreads))]
