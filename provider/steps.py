"""Arithmetic that can be shown: a calculator returns its steps beside its result."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Unit = Literal["money", "share", "hours", "days", "area"]


@dataclass(frozen=True, slots=True)
class Step:
    """One line of arithmetic.

    `label` is an English message id, marked with `gettext_noop` for the page to translate; `expression` holds figures
    and signs only, as a person would write them; a `share` is a fraction of one.
    """

    label: str
    expression: str
    result: Decimal
    unit: Unit = "money"


def gettext_noop(text: str) -> str:
    """Mark a label for makemessages without importing Django into a calculator."""
    return text


def figure(value: Decimal | int) -> str:
    """A number for an expression: `1600.00` as `1,600`, `0.50` as `0.5`."""
    text = f"{Decimal(value):,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: Decimal) -> str:
    """`0.3425` as `34.25%`, to two decimals."""
    return f"{share * 100:.2f}%"
