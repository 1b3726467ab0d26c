"""A family's account: what was charged, what came in, what is left. Pure; amounts are two-place Decimal.

A charge is positive (an invoice) or negative (a credit note); money received is positive and lowers the balance.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from provider.money import ZERO
from provider.periods import DateSpan


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement. Exactly one of `charged` and `received` is not zero, save for an invoice of 0.00."""

    on: date
    text: str
    charged: Decimal = ZERO
    received: Decimal = ZERO
    url: str = ""


@dataclass(frozen=True, slots=True)
class Posting:
    """An entry and the balance after it."""

    entry: Entry
    balance: Decimal


@dataclass(frozen=True, slots=True)
class Statement:
    """The account over a span: opening + charged - received = closing. A negative balance is credit on account."""

    opening: Decimal
    postings: tuple[Posting, ...]
    charged: Decimal
    received: Decimal

    @property
    def closing(self) -> Decimal:
        return self.opening + self.charged - self.received


def balance(charged: Iterable[Decimal], received: Iterable[Decimal]) -> Decimal:
    """Invoices (and credit notes, negative) minus payments, in any order."""
    return sum(charged, ZERO) - sum(received, ZERO)


def statement(entries: Iterable[Entry], span: DateSpan) -> Statement:
    """The postings of a span by date; what lies before it is the opening balance, what lies after is left out."""
    known = [entry for entry in entries if span.end is None or entry.on < span.end]
    before = [entry for entry in known if entry.on < span.start]
    inside = sorted((entry for entry in known if entry.on in span), key=lambda entry: entry.on)
    opening = balance((entry.charged for entry in before), (entry.received for entry in before))
    running, postings = opening, []
    for entry in inside:
        running += entry.charged - entry.received
        postings.append(Posting(entry, running))
    return Statement(
        opening,
        tuple(postings),
        sum((entry.charged for entry in inside), ZERO),
        sum((entry.received for entry in inside), ZERO),
    )
