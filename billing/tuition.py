"""Tuition in advance: the lines one agreement puts on the invoice of one month.

A care day is a day with a slot in the agreed week. A full month or week costs its rate however many care days it has;
a part of one costs rate x care days charged / care days it would have had. A day closed unpaid is not charged, a day
closed paid is. A week belongs to the month of its first care day under the agreement, so that no week is charged twice.
"""

from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal, TypeVar

from provider.money import format_money, round_half_up, split
from provider.periods import DateSpan, WeekPattern, scheduled_days, weekday_dates
from provider.steps import Step, gettext_noop

Period = Literal["monthly", "weekly"]
Payer = TypeVar("Payer", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Closure:
    """A day on which the business is closed, and whether families pay for it."""

    day: date
    paid: bool


@dataclass(frozen=True, slots=True)
class Agreement:
    """What one family agreed for one child. A rate of zero is a free place.

    ValueError: a negative rate, or a pattern without any care day.
    """

    rate: Decimal
    period: Period
    pattern: WeekPattern
    span: DateSpan

    def __post_init__(self) -> None:
        if self.rate < 0:
            raise ValueError("a rate cannot be negative")
        if self.period not in ("monthly", "weekly"):
            raise ValueError(f"a rate is for a month or a week, not {self.period!r}")
        if not self.pattern.slots:
            raise ValueError("an agreement needs at least one care day a week")


@dataclass(frozen=True, slots=True)
class TuitionLine:
    """One month or week: `charged` of its `scheduled` care days at `rate`. `span` is the part under the agreement."""

    period: Period
    span: DateSpan
    rate: Decimal
    charged: int
    scheduled: int
    amount: Decimal

    @property
    def prorated(self) -> bool:
        return self.charged != self.scheduled

    @property
    def arithmetic(self) -> str:
        """`8 of 21 care days`, or nothing for a full month or week."""
        return f"{self.charged} of {self.scheduled} care days" if self.prorated else ""

    @property
    def steps(self) -> tuple[Step, ...]:
        rate = format_money(self.rate)
        if not self.prorated:
            label = gettext_noop("Full month") if self.period == "monthly" else gettext_noop("Full week")
            return (Step(label, rate, self.amount),)
        return (Step(gettext_noop("Care days"), f"{rate} × {self.charged} ÷ {self.scheduled}", self.amount),)


def tuition_lines(
    agreement: Agreement, year: int, month: int, closures: Collection[Closure] = ()
) -> tuple[TuitionLine, ...]:
    """The month's lines in date order: at most one for a monthly rate, one per week for a weekly rate.

    Empty when the place is free or no care day of the month lies within the agreement. A month or week whose care days
    are all closed unpaid is still listed, at 0.00, so that the family sees why.
    """
    if not agreement.rate:
        return ()
    unpaid = {closure.day for closure in closures if not closure.paid}
    whole_month = DateSpan.month(year, month)
    if agreement.period == "monthly":
        lines = [_line(agreement, whole_month, unpaid)]
    else:
        reach = DateSpan(DateSpan.week(whole_month.start).start, DateSpan.week(whole_month.last_day).end)
        weeks = [DateSpan.week(monday) for monday in weekday_dates(reach, {0})]
        lines = [_line(agreement, week, unpaid) for week in weeks if _first_care_day(agreement, week) in whole_month]
    return tuple(line for line in lines if line)


def payer_shares(amount: Decimal, shares: Mapping[Payer, Decimal | int]) -> dict[Payer, Decimal]:
    """An amount divided among its payers by weight (70 and 30, or 1 and 1), exactly. ValueError if all are zero."""
    return dict(zip(shares, split(amount, list(shares.values())), strict=True))


def _first_care_day(agreement: Agreement, week: DateSpan) -> date:
    """The week's first care day under the agreement, or its Sunday when there is none: such a week has no line."""
    inside = agreement.span.intersect(week)
    days = scheduled_days(agreement.pattern, inside) if inside else []
    return days[0] if days else week.last_day


def _line(agreement: Agreement, whole: DateSpan, unpaid: Collection[date]) -> TuitionLine | None:
    inside = agreement.span.intersect(whole)
    agreed = scheduled_days(agreement.pattern, inside) if inside else []
    if not inside or not agreed:
        return None
    scheduled = len(scheduled_days(agreement.pattern, whole))
    charged = len([day for day in agreed if day not in unpaid])
    amount = round_half_up(agreement.rate * charged / scheduled)
    return TuitionLine(agreement.period, inside, agreement.rate, charged, scheduled, amount)
