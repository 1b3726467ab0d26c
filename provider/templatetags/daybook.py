"""Template tags of the day book."""

from typing import Any

from django import template
from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.forms.base import new_submission_key
from provider.periods import DateSpan
from provider.templatetags.frame import span

register = template.Library()


@register.simple_tag
def submission_key() -> str:
    """A fresh key for a form of one button, so that a second tap changes nothing."""
    return new_submission_key()


@register.filter
def age(years_and_months: tuple[int, int]) -> str:
    """`4 years`, or `1 year, 3 months` for the first three years."""
    years, months = years_and_months
    told_years = ngettext("%(n)d year", "%(n)d years", years) % {"n": years}
    told_months = ngettext("%(n)d month", "%(n)d months", months) % {"n": months}
    if years >= 3 or (years and not months):
        return told_years
    return _("%(years)s, %(months)s") % {"years": told_years, "months": told_months} if years else told_months


@register.filter
def span_of(row: Any) -> str:
    """The days of a row with a half-open `start` and `end`, by its first and last day."""
    return span(DateSpan(row.start, row.end))


@register.filter
def weeks(slots: Any) -> list[str]:
    """A weekly pattern in words: equal times of neighbouring weekdays are joined, like `Mon–Fri 8:00 – 17:00`."""
    joined: list[list[Any]] = []
    for slot in slots:
        times = (slot.arrives, slot.leaves, slot.cycle)
        if joined and joined[-1][2] == times and joined[-1][1].weekday == slot.weekday - 1:
            joined[-1][1] = slot
        else:
            joined.append([slot, slot, times])
    return [_in_words(first, last) for first, last, _times in joined]


def _in_words(first: Any, last: Any) -> str:
    days = first.get_weekday_display()
    if last is not first:
        days = f"{days} – {last.get_weekday_display()}"
    told = f"{days}, {time_format(first.arrives)} – {time_format(first.leaves)}"
    return told if first.cycle == "every" else f"{told} ({first.get_cycle_display().lower()})"
