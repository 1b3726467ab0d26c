"""What home-made things need and cost, and which pieces a changed roster asks for.

Hours stand beside the cost of the materials and are never part of it.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from provider.money import round_half_up


@dataclass(frozen=True, slots=True)
class Line:
    """`quantity` of a material for one batch of a recipe, `waste` (a fraction of one) lost on the way."""

    material: Any
    quantity: Decimal
    waste: Decimal = Decimal(0)
    child_specific: bool = False


def need(line: Line, makes: Decimal, pieces: Decimal) -> Decimal:
    """What `pieces` need of a line whose batch makes `makes`: rounded up to three places, so that nothing is short.

    ValueError: a batch of nothing, or waste that leaves nothing.
    """
    if makes <= 0 or not 0 <= line.waste < 1:
        raise ValueError("a batch makes something, and some of what it takes is left")
    exact = Fraction(line.quantity) * Fraction(pieces) / Fraction(makes) / (1 - Fraction(line.waste))
    return Decimal(math.ceil(exact * 1000)).scaleb(-3)


def needs(
    lines: Iterable[Line], makes: Decimal, pieces: Decimal, *, only_child_specific: bool = False
) -> Mapping[Any, Decimal]:
    """What `pieces` need of each material; for pieces made anew only what is specific to a child."""
    totals: dict[Any, Decimal] = defaultdict(Decimal)
    for line in lines:
        if line.child_specific or not only_child_specific:
            totals[line.material] += need(line, makes, pieces)
    return dict(totals)


@dataclass(frozen=True, slots=True)
class MakeOrBuy:
    """One piece made and bought: `saved` by making it is below zero when buying is cheaper. None where unknown.

    `hours` and their value at the owner's own rate are for one piece too, in no other figure.
    """

    made: Decimal
    bought: Decimal | None
    saved: Decimal | None
    hours: Decimal
    hours_value: Decimal | None


def make_or_buy(
    materials: Decimal, pieces: Decimal, minutes: int, *, bought: Decimal | None = None, rate: Decimal | None = None
) -> MakeOrBuy:
    """Compare what `pieces` cost in `materials` and `minutes` with the price of one bought; `rate` is money an hour."""
    made = round_half_up(materials / pieces)
    hours = Decimal(minutes) / 60 / pieces
    return MakeOrBuy(
        made,
        bought,
        None if bought is None else bought - made,
        round_half_up(hours),
        None if rate is None else round_half_up(hours * rate),
    )


@dataclass(frozen=True, slots=True)
class Remake:
    """What a roster asks for: texts to make, pieces to keep, pieces to bring out again, and pieces to put by."""

    make: tuple[str, ...]
    keep: tuple[Any, ...]
    bring_out: tuple[Any, ...]
    put_by: tuple[Any, ...]


def remake(wanted: Iterable[str], good: Iterable[tuple[Any, str]], put_by: Iterable[tuple[Any, str]] = ()) -> Remake:
    """Compare the texts wanted, one for each child, with the pieces that lie out and those put by, as (piece, text).

    Capitals make no difference. A piece in use comes before one put by, which comes before a new one.
    """
    out, by = _by_text(good), _by_text(put_by)
    make, keep, bring_out = [], [], []
    for text in sorted(wanted, key=str.casefold):
        key = text.casefold()
        if out[key]:
            keep.append(out[key].pop(0))
        elif by[key]:
            bring_out.append(by[key].pop(0))
        else:
            make.append(text)
    return Remake(tuple(make), tuple(keep), tuple(bring_out), tuple(piece for rest in out.values() for piece in rest))


def _by_text(pieces: Iterable[tuple[Any, str]]) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = defaultdict(list)
    for piece, text in pieces:
        found[text.casefold()].append(piece)
    return found
