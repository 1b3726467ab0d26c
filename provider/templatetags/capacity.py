"""The words of capacity: ages, rules, what is passed, and its two pictures."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django import template
from django.utils.dates import WEEKDAYS, WEEKDAYS_ABBR
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from provider.capacity import CapacityRule, Excess, Tier

register = template.Library()

CHECKED = {
    "published": gettext_lazy("Read in the published text"),
    "second_hand": gettext_lazy("Read second hand: compare it with your licence"),
    "memory": gettext_lazy("From memory, nobody could check it: compare it with your licence"),
    "entered": gettext_lazy("Entered by you"),
}


@register.filter
def months_of_age(months: int) -> str:
    """`4 years`, or `16 months` where that is no whole number of years or only one."""
    if months % 12 or months == 12:
        return ngettext("%(n)d month", "%(n)d months", months) % {"n": months}
    return ngettext("%(n)d year", "%(n)d years", months // 12) % {"n": months // 12}


@register.filter
def checked_words(rule: CapacityRule) -> str:
    """How the rule was checked, for a person who relies on it."""
    return str(CHECKED[rule.checked])


@register.filter
def message(text: str) -> str:
    """A message id of a rule file in the reader's language."""
    return _(text) if text else ""


@register.filter
def tier_words(tier: Tier) -> list[str]:
    """One way to be within a rule, line by line."""
    words = []
    if tier.most is not None:
        words.append(ngettext("at most %(n)d child", "at most %(n)d children", tier.most) % {"n": tier.most})
    if tier.most_families is not None:
        n = tier.most_families
        words.append(ngettext("children of at most %(n)d family", "children of at most %(n)d families", n) % {"n": n})
    words += [_("at most %(n)d %(whom)s") % {"n": limit.most, "whom": _(limit.name)} for limit in tier.limits]
    words += [_("at least %(n)d %(whom)s") % {"n": quota.least, "whom": _(quota.name)} for quota in tier.quotas]
    return words


@register.filter
def rule_notes(rule: CapacityRule) -> list[str]:
    """Who counts, how many adults, and points, in sentences."""
    notes = [ngettext("%(n)d adult must be there.", "%(n)d adults must be there.", rule.adults) % {"n": rule.adults}]
    if rule.children_under_months is not None:
        notes.append(_("Children count while under %(age)s.") % {"age": months_of_age(rule.children_under_months)})
    if rule.own_under_months is None:
        notes.append(_("Your own children count like the others."))
    elif rule.own_under_months:
        notes.append(_("Your own children count while under %(age)s.") % {"age": months_of_age(rule.own_under_months)})
    else:
        notes.append(_("Your own children are not counted."))
    if rule.points:
        notes.append(_("At most %(n)d points for each adult.") % {"n": rule.points.per_adult})
        for band in rule.points.bands:
            points = ngettext("%(n)d point", "%(n)d points", band.points) % {"n": band.points}
            until = months_of_age(band.under_months) if band.under_months is not None else None
            age = (
                _("under %(age)s") % {"age": until}
                if until
                else _("from %(age)s") % {"age": months_of_age(band.from_months)}
            )
            notes.append(_("A child %(age)s: %(points)s.") % {"age": age, "points": points})
        if rule.points.own_under_months is not None:
            age = months_of_age(rule.points.own_under_months)
            notes.append(_("Your own children weigh points while under %(age)s.") % {"age": age})
    return notes


@register.filter
def excess_words(excess: Iterable[Excess]) -> str:
    """`children under 2 years: 4, at most 3`; several joined by semicolons."""
    told = []
    for each in excess:
        bound = _("%(name)s: %(found)d, at most %(allowed)d")
        if each.too_few:
            bound = _("%(name)s: %(found)d, at least %(allowed)d")
        told.append(bound % {"name": _(each.name), "found": each.found, "allowed": each.allowed})
    return "; ".join(told)


@register.filter
def clock(minute: int) -> str:
    """A minute of the day as the reader writes times; 1440 is midnight."""
    return time_format(time(minute // 60 % 24, minute % 60))


@register.filter
def clock_ranges(ranges: Iterable[tuple[int, int]]) -> str:
    """`7:30 a.m. – 9 a.m., noon – 2 p.m.`; a dash when there are none."""
    return ", ".join(f"{clock(start)} – {clock(end)}" for start, end in ranges) or "–"


@register.filter
def weekday_name(weekday: int) -> str:
    return str(WEEKDAYS[weekday])


@register.filter
def days_words(days: Sequence[date]) -> str:
    """One or two days by name, more by the first, the last and their number."""
    if len(days) <= 2:
        return ", ".join(date_format(day) for day in days)
    return _("%(n)d days from %(first)s to %(last)s") % {
        "n": len(days),
        "first": date_format(days[0]),
        "last": date_format(days[-1]),
    }


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of a picture: `x` and `width` in percent of its width, `y` and `height` in pixels."""

    x: str
    y: int
    width: str
    height: int
    classes: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """A word of a picture."""

    x: str
    y: int
    text: str
    anchor: str = "start"


ROW = 30
HEAD = 24
NAMES = 13  # percent of the width left of the grid, for the weekdays


@register.inclusion_tag("provider/capacity/room_grid.html")
def room_grid(week: Sequence[Any], title: str, identity: str) -> dict[str, Any]:
    """Weekdays by half hours: empty boxes have room, half-filled ones on some days, full ones none."""
    columns = [cell.start for cell in week[0].cells]
    width = (100 - NAMES) / len(columns)
    boxes, names = [], []
    for row, day in enumerate(week):
        top = HEAD + row * ROW
        names.append(Mark("0%", top + 19, str(WEEKDAYS_ABBR[day.weekday])))
        for column, cell in enumerate(day.cells):
            x = f"{NAMES + column * width:.3f}%"
            if cell.state != "closed":
                boxes.append(Box(x, top, f"{width:.3f}%", ROW - 4, "grid-box"))
            if cell.state in ("some", "full"):
                height = ROW - 4 if cell.state == "full" else (ROW - 4) // 2
                boxes.append(Box(x, top + ROW - 4 - height, f"{width:.3f}%", height, f"grid-fill {cell.state}"))
    hours = [
        Mark(f"{NAMES + column * width:.3f}%", 15, clock(minute))
        for column, minute in enumerate(columns)
        if minute % 180 == 0
    ]
    return {
        "title": title,
        "identity": identity,
        "description": "; ".join(f"{weekday_name(day.weekday)}: {clock_ranges(day.room)}" for day in week),
        "boxes": boxes,
        "marks": [*names, *hours],
        "height": HEAD + len(week) * ROW,
    }


STEP = 26  # pixels for each child
LEAST_SPAN = 60


@register.inclusion_tag("provider/capacity/day_chart.html")
def day_chart(numbers: Any, title: str, identity: str) -> dict[str, Any]:
    """Children over the hours of a day as steps, with a line at the limit; times are those of the wall clock."""
    levels = numbers.levels
    first = levels[0].start.hour * 60
    last = max(first + LEAST_SPAN, -(-_wall(levels[-1].end, levels[0].start) // 60) * 60)
    top = max([level.children for level in levels] + [numbers.limit or 0]) + 1
    base = top * STEP

    def at(minute: int) -> float:
        return (minute - first) / (last - first) * 100

    boxes = []
    for level in levels:
        start, end = _wall(level.start, levels[0].start), _wall(level.end, levels[0].start)
        height = level.children * STEP
        classes = "day-bar over" if level.headcount.excess else "day-bar"
        boxes.append(Box(f"{at(start):.3f}%", base - height, f"{max(0.0, at(end) - at(start)):.3f}%", height, classes))
    every = 180 if last - first > 360 else 60
    return {
        "title": title,
        "identity": identity,
        "description": "; ".join(
            f"{time_format(level.start.time())} – {time_format(level.end.time())}: {level.children}" for level in levels
        ),
        "boxes": boxes,
        "base": base,
        "limit": None if numbers.limit is None else base - numbers.limit * STEP,
        "limit_text": numbers.limit,
        "marks": [
            Mark(f"{at(minute):.3f}%", base + 20, clock(minute), "start" if minute == first else "middle")
            for minute in range(first, last, every)
        ],
        "height": base + 28,
    }


def _wall(moment: datetime, first: datetime) -> int:
    """Minutes of the wall clock since the midnight before `first`."""
    return (moment.date() - first.date()).days * 1440 + moment.hour * 60 + moment.minute
