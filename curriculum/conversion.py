"""What a thing from the household costs the business when it begins to serve it: the basis that a country's rule gives.

`rules/conversion.toml` says which method a country uses and where that stands. A preparer decides.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Literal

from provider.money import ZERO, round_half_up
from provider.rule_files import build, check_once, read_file
from provider.steps import Step, figure, gettext_noop

RULES = Path(__file__).parent / "rules" / "conversion.toml"


class NoConversionRule(LookupError):
    """No rule file says what a thing from the household costs a business in this country."""


@dataclass(frozen=True, slots=True)
class ConversionRule:
    country: str
    method: Literal["lesser", "half_above"]
    source: str
    checked: Literal["published", "second_hand", "memory"]


@dataclass(frozen=True, slots=True)
class Conversion:
    """The basis with its arithmetic."""

    basis: Decimal
    steps: tuple[Step, ...]
    rule: ConversionRule


@cache
def conversion_rules() -> dict[str, ConversionRule]:
    """The rules by country. Raises RuleFileError."""
    rules = [build(RULES, raw, ConversionRule) for raw in read_file(RULES, {"rule"})["rule"]]
    check_once(RULES, "country", [rule.country for rule in rules])
    return {rule.country: rule for rule in rules}


def converted_basis(country: str, cost: Decimal, fair_value: Decimal) -> Conversion:
    """The basis of a thing that cost `cost` (with improvements, less losses) and was worth `fair_value` on the day.

    Raises NoConversionRule, and ValueError for a negative amount.
    """
    if min(cost, fair_value) < 0:
        raise ValueError("neither a cost nor a value can be negative")
    try:
        rule = conversion_rules()[country]
    except KeyError as error:
        raise NoConversionRule(country) from error
    basis, steps = _METHODS[rule.method](cost, fair_value)
    return Conversion(basis, steps, rule)


def _lesser(cost: Decimal, fair_value: Decimal) -> tuple[Decimal, tuple[Step, ...]]:
    basis = min(cost, fair_value)
    label = gettext_noop("The lower of its cost and its value on the day")
    return basis, (Step(label, f"min({figure(cost)}, {figure(fair_value)})", basis),)


def _half_above(cost: Decimal, fair_value: Decimal) -> tuple[Decimal, tuple[Step, ...]]:
    """Value, where that is below the cost; else the cost and half of what the value lies above it."""
    if fair_value < cost:
        label = gettext_noop("Its value on the day, which is below its cost")
        return fair_value, (Step(label, figure(fair_value), fair_value),)
    above = max(ZERO, fair_value - cost)
    half = round_half_up(above / 2)
    basis = cost + half
    return basis, (
        Step(gettext_noop("Its value above its cost"), f"{figure(fair_value)} − {figure(cost)}", above),
        Step(gettext_noop("Half of that"), f"{figure(above)} × ½", half),
        Step(gettext_noop("Cost and that half"), f"{figure(cost)} + {figure(half)}", basis),
    )


_METHODS: dict[str, Callable[[Decimal, Decimal], tuple[Decimal, tuple[Step, ...]]]] = {
    "lesser": _lesser,
    "half_above": _half_above,
}
