"""Months in addresses."""

from dataclasses import dataclass
from datetime import date

from django.http import Http404
from django.utils.translation import gettext as _

from provider.periods import ONE_DAY, DateSpan


@dataclass(frozen=True, slots=True)
class MonthTurn:
    """A month with the first days of its neighbours, for the links around it."""

    span: DateSpan
    before: date
    after: date


def month_turn(year: int, month: int) -> MonthTurn:
    """404 for a month that no calendar has."""
    try:
        span = DateSpan.month(year, month)
        return MonthTurn(span, (span.start - ONE_DAY).replace(day=1), span.start + ONE_DAY * span.days)
    except (ValueError, OverflowError) as error:
        raise Http404(_("No such month.")) from error


def day_of(year: int, month: int, day: int) -> date:
    """404 for a day that no calendar has, or that has no neighbours."""
    try:
        found = date(year, month, day)
        _neighbours = (found - ONE_DAY * 7, found + ONE_DAY * 7)
    except (ValueError, OverflowError) as error:
        raise Http404(_("No such day.")) from error
    return found
