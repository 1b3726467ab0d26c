"""Money as two-place Decimal. The only module that knows about cents.

Amounts carry no currency: a provider keeps her books in one. Amounts may be negative (returns, credits).
"""

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

CENT = Decimal("0.01")
ZERO = Decimal("0.00")
MAX_TYPED = Decimal("9999999.99")

_SIGNED = re.compile(r"(?P<open>\()?\$?(?P<sign>[-+\u2212])?\$?(?P<digits>[0-9.,]+)(?P<close>\))?")
_POINT = re.compile(r"(?P<whole>\d*|\d{1,3}(?:,\d{3})+)(?:\.(?P<part>\d*))?")
_COMMA = re.compile(r"(?P<whole>\d*|\d{1,3}(?:\.\d{3})+),(?P<part>\d{1,2})")


class NotMoney(ValueError):
    """Typed text that is not an amount. `reason` is `empty`, `nonsense`, `decimals` or `too_large`."""

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(message)
        self.reason = reason


def round_half_up(value: Decimal, places: int = 2) -> Decimal:
    """Round to `places` decimals, halves away from zero (2.345 -> 2.35, -2.345 -> -2.35)."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def cents(amount: Decimal) -> int:
    """Whole cents of an amount. ValueError when it is not a whole number of cents: rounding belongs at the line."""
    if not amount.is_finite():
        raise ValueError(f"{amount} is not an amount of money")
    whole = amount.scaleb(2)
    if whole != whole.to_integral_value():
        raise ValueError(f"{amount} is not a whole number of cents")
    return int(whole)


def from_cents(count: int) -> Decimal:
    """Whole cents as an amount with two places."""
    return Decimal(count).scaleb(-2)


def split(total: Decimal, weights: Sequence[Decimal | int]) -> list[Decimal]:
    """Divide `total` in proportion to `weights`, exactly to the cent, by largest remainder (Hamilton).

    Every exact share is cut to the cent and the cents left over go to the largest remainders, the earlier part first
    when two are equal. A negative total mirrors the positive one and a zero weight gets 0.00.
    ValueError: no weights, a negative weight, or weights that are all zero.
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("a weight is negative")
    shares = [Fraction(weight) for weight in weights]
    whole = sum(shares)
    if not whole:
        raise ValueError("there is nothing to divide by: every weight is zero")
    amount = abs(cents(total))
    parts, remainders = [], []
    for share in shares:
        exact = amount * share / whole
        parts.append(int(exact))
        remainders.append(exact - int(exact))
    by_remainder = sorted(range(len(parts)), key=lambda index: -remainders[index])
    for index in by_remainder[: amount - sum(parts)]:
        parts[index] += 1
    return [from_cents(-part if total < 0 else part) for part in parts]


def parse_money(text: str) -> Decimal:
    """Read a typed amount: `12`, `1,234.5`, `$12.00`, `-3.20`, `(3.20)` for minus, and `12,50` with a decimal comma.

    A comma followed by three digits separates thousands. NotMoney (a ValueError) says what is wrong with the rest.
    """
    compact = "".join(text.split())
    if not compact:
        raise NotMoney("empty", "Enter an amount.")
    typed = _SIGNED.fullmatch(compact)
    if not typed or bool(typed["open"]) != bool(typed["close"]) or (typed["open"] and typed["sign"]):
        raise NotMoney("nonsense", "Enter an amount in figures, like 12.50.")
    number = _POINT.fullmatch(typed["digits"]) or _COMMA.fullmatch(typed["digits"])
    if not number or not (number["whole"] or number["part"]):
        raise NotMoney("nonsense", "Enter an amount in figures, like 12.50.")
    part = number["part"] or ""
    if len(part.rstrip("0")) > 2:
        raise NotMoney("decimals", "Enter an amount with at most two decimals.")
    whole = re.sub(r"[.,]", "", number["whole"]) or "0"
    if len(whole.lstrip("0")) > 7:
        raise NotMoney("too_large", f"Enter an amount of at most {format_money(MAX_TYPED)}.")
    amount = Decimal(f"{whole}.{part[:2] or '0'}").quantize(CENT)
    return -amount if amount and (typed["open"] or typed["sign"] in ("-", "\u2212")) else amount


def format_money(amount: Decimal, symbol: str = "") -> str:
    """`1234.5` as `1,234.50`; with a symbol `-$1,234.50`."""
    rounded = round_half_up(amount)
    return f"{'-' if rounded < 0 else ''}{symbol}{abs(rounded):,.2f}"
