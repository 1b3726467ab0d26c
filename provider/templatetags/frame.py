"""Template tags of the frame: money, dates and shares as words, the month strip, error summary and bar charts."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms, template
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from provider.money import format_money, round_half_up
from provider.periods import DateSpan
from provider.steps import Step

register = template.Library()

SYMBOL = "$"  # of both currencies that a provider can have
NO_BREAK = "\N{NO-BREAK SPACE}"
HUE_STEPS = 12


@register.filter
def money(amount: Decimal | None) -> str:
    """`-$1,234.50`; nothing for None."""
    return "" if amount is None else format_money(amount, SYMBOL)


@register.filter
def percent(share: Decimal | None, places: int = 2) -> str:
    """A fraction of one as `17.13%`; nothing for None."""
    if share is None:
        return ""
    return f"{number_format(round_half_up(share * 100, places), places)}%"


@register.filter
def hours(count: Decimal | int | None) -> str:
    """Decimal hours as `2,480.25 h`, without needless zeros; nothing for None."""
    if count is None:
        return ""
    shown = round_half_up(Decimal(count))
    whole = shown == shown.to_integral_value()
    return f"{number_format(shown, 0 if whole else 2, use_l10n=True, force_grouping=True)}{NO_BREAK}h"


@dataclass(frozen=True, slots=True)
class ShownStep:
    label: str
    sum: str
    result: str


@register.filter
def shown(steps: Iterable[Step]) -> list[ShownStep]:
    """A calculator's arithmetic for `provider/parts/steps.html`: labels translated, results in their unit."""
    write: dict[str, Callable[[Decimal], str]] = {"money": money, "share": percent, "hours": hours}
    return [
        ShownStep(_(step.label), step.expression, write.get(step.unit, number_format)(step.result)) for step in steps
    ]


def _local(moment: date) -> date:
    return timezone.localtime(moment) if isinstance(moment, datetime) and timezone.is_aware(moment) else moment


@register.filter
def day(value: date | None) -> str:
    """A date in words, as the reader's language writes it: `June 16, 2026`."""
    return date_format(_local(value), "DATE_FORMAT") if value else ""


@register.filter
def weekday(value: date | None) -> str:
    """A date of the current season: `Tuesday, June 16`."""
    if not value:
        return ""
    local = _local(value)
    return f"{date_format(local, 'l')}, {date_format(local, 'MONTH_DAY_FORMAT')}"


@register.filter
def month(value: date | None) -> str:
    """`June 2026`."""
    return date_format(_local(value), "YEAR_MONTH_FORMAT") if value else ""


@register.filter
def figures_day(value: date | None, country: str = "US") -> str:
    """A date in figures as the country writes it: `06/16/2026` in the United States, `2026-06-16` elsewhere."""
    return date_format(_local(value), "m/d/Y" if country == "US" else "Y-m-d") if value else ""


@register.filter
def span(value: DateSpan | None) -> str:
    """A half-open span by its first and last day: `June 1, 2026 – June 30, 2026`, or `from June 1, 2026`."""
    if value is None:
        return ""
    if value.end is None:
        return _("from %(day)s") % {"day": day(value.start)}
    if value.days == 1:
        return day(value.start)
    return f"{day(value.start)} – {day(value.last_day)}"


@register.filter
def hue_class(hue: int | None) -> str:
    """The class that tints an element: a hue of 0-359 degrees in steps of 30, for style attributes are not allowed."""
    return "" if hue is None else f"hue-{round(hue / 360 * HUE_STEPS) % HUE_STEPS}"


@dataclass(frozen=True, slots=True)
class StripCell:
    letter: str
    number: int
    classes: str


@register.inclusion_tag("provider/parts/strip.html")
def strip(strip: Any, today: date) -> dict[str, Any]:
    """The month strip. On a phone the week of `today` is drawn wide and the other days as ticks."""
    week = DateSpan.week(today)
    closed = [day for day in strip.days if day.is_closed and not day.is_weekend]
    return {
        "strip": strip,
        "today": next((day.date for day in strip.days if day.is_today), None),
        "closed": ", ".join(str(day.number) for day in closed),
        "has_week": any(day.date in week for day in strip.days),
        "cells": [
            StripCell(date_format(day.date, "D")[:1], day.number, " ".join(_cell_classes(day, week)))
            for day in strip.days
        ],
    }


def _cell_classes(day: Any, week: DateSpan) -> Iterable[str]:
    yield "day"
    if day.date in week:
        yield "week"
    if day.date.weekday() == 0:
        yield "week-start"
    for name in ("today", "weekend", "closed", "other"):
        if getattr(day, f"is_{name}", False):
            yield name


@dataclass(frozen=True, slots=True)
class Problem:
    """One line of an error summary. `target` is the id of the box to go to, or empty."""

    target: str
    label: str
    message: str


@register.inclusion_tag("provider/parts/error_summary.html")
def error_summary(*parts: Any) -> dict[str, Any]:
    """All errors of the given forms and formsets, each linked to its box; rows of a formset are counted from 1."""
    return {"problems": [problem for part in parts if part for problem in _problems(part)]}


def _problems(part: forms.BaseForm | forms.BaseFormSet[Any]) -> Iterable[Problem]:
    if not part.is_bound:
        return
    if isinstance(part, forms.BaseForm):
        yield from _form_problems(part)
        return
    yield from (Problem("", "", str(message)) for message in part.non_form_errors())
    for number, form in enumerate(part.forms, 1):
        yield from _form_problems(form, _("Line %(number)d") % {"number": number})


def _form_problems(form: forms.BaseForm, row: str = "") -> Iterable[Problem]:
    for name, messages in form.errors.items():
        bound = form[name] if name in form.fields else None
        label = str(bound.label) if bound is not None else ""
        for message in messages:
            yield Problem(_target(bound), ", ".join(filter(None, (row, label))), str(message))


def _target(bound: BoundField | None) -> str:
    if bound is None or bound.is_hidden:
        return ""
    # A group of boxes (radio buttons, ticks) has no id of its own that can take the focus; its first box has.
    return bound.id_for_label or f"{bound.auto_id}_0"


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar. `value` decides its length, `text` is what is written at its end; `now` marks the one looked at."""

    label: str
    value: Decimal
    text: str
    now: bool = False


@dataclass(frozen=True, slots=True)
class DrawnBar:
    bar: Bar
    text_y: int
    bar_y: int
    axis_top: int
    axis_end: int
    x: str
    width: str
    classes: str


ROW_HEIGHT = 46


@register.inclusion_tag("provider/parts/bar_chart.html")
def bar_chart(bars: Sequence[Bar], title: str, identity: str, description: str = "") -> dict[str, Any]:
    """A horizontal bar chart as SVG, to stand beside the table of its numbers.

    Lengths are percentages of the width, so that it fits a phone and a PDF without scaling its letters. Bars of
    negative values run left from the zero line. `identity` is unique on the page.
    """
    least = min([bar.value for bar in bars] + [Decimal(0)])
    reach = max([bar.value for bar in bars] + [Decimal(0)]) - least or Decimal(1)
    zero = -least / reach
    drawn = [
        DrawnBar(
            bar,
            text_y=row * ROW_HEIGHT + 16,
            bar_y=row * ROW_HEIGHT + 23,
            axis_top=row * ROW_HEIGHT + 21,
            axis_end=row * ROW_HEIGHT + 39,
            x=_css_percent(zero + min(bar.value, Decimal(0)) / reach),
            width=_css_percent(abs(bar.value) / reach),
            classes=" ".join(filter(None, ("now" if bar.now else "", "below" if bar.value < 0 else ""))),
        )
        for row, bar in enumerate(bars)
    ]
    return {
        "bars": drawn,
        "title": title,
        "identity": identity,
        "description": description or "; ".join(f"{bar.label}: {bar.text}" for bar in bars),
        "height": len(bars) * ROW_HEIGHT,
        "zero": _css_percent(zero),
    }


def _css_percent(share: Decimal) -> str:
    return f"{round_half_up(share * 100)}%"
