"""The calendar: opening hours, public holidays, closures, and what feeds may tell of them without a child's name."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from provider import doors
from provider.ical import Entry
from provider.models import CalendarFeed, Child, Closure, OpeningHours, Provider, Reminder, WaitingChild
from provider.models.base import meets
from provider.periods import ONE_DAY, DateSpan
from provider.selectors.papers import family_papers_due, own_papers
from provider.selectors.safety import due
from provider.statutory import Holiday, UnknownPlace, statutory_holidays

# What a reader's calendar shows around today.
BACK, AHEAD = timedelta(days=92), timedelta(days=550)


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A day of a month's page; `in_month` is false for the days that fill its first and last week."""

    day: date
    in_month: bool
    opening: OpeningHours | None
    closure: Closure | None
    holidays: tuple[str, ...]
    entries: tuple[Entry, ...]


def calendar_month(provider: Provider, month: DateSpan, today: date, language: str = "") -> list[CalendarDay]:
    """The weeks, Monday to Sunday, that hold a month. Two queries and those of the registered rooms."""
    span = DateSpan(DateSpan.week(month.start).start, DateSpan.week(month.last_day).end)
    opening = list(OpeningHours.objects.filter(meets(span), provider=provider))
    closures = list(_closures(provider, span))
    holidays: dict[date, list[str]] = defaultdict(list)
    for year in sorted({span.start.year, span.last_day.year}):
        for holiday in holidays_of(provider, year, language) or ():
            holidays[holiday.day].append(holiday.name)
    told = [entry for source in doors.feed_events for entry in source(provider, span, today)]
    entries = [entry for entry in told if entry.kind != "closure"]
    return [
        CalendarDay(
            day,
            day in month,
            next((row for row in opening if _holds(row, day)), None),
            next((row for row in closures if row.start <= day < row.end), None),
            tuple(holidays[day]),
            tuple(entry for entry in entries if _begins_on(entry, day, month)),
        )
        for day in span.iter_days()
    ]


def _holds(row: OpeningHours, day: date) -> bool:
    return row.weekday == day.weekday() and day in DateSpan(row.start, row.end)


def _begins_on(entry: Entry, day: date, month: DateSpan) -> bool:
    """A longer entry is told once: on its first day, or on the first of the month."""
    return day == entry.span.start or (day == month.start and day in entry.span)


def holidays_of(provider: Provider, year: int, language: str = "") -> list[Holiday] | None:
    """The public holidays where the provider lives; None when nothing is known of the place."""
    try:
        return statutory_holidays(provider.country, provider.region, year, language)
    except UnknownPlace:
        return None


@dataclass(frozen=True, slots=True)
class HolidayRow:
    """A public holiday: `closure` is the one it falls into, `is_open` whether the house would be open otherwise."""

    holiday: Holiday
    closure: Closure | None
    is_open: bool


def holiday_rows(provider: Provider, year: int, language: str = "") -> list[HolidayRow] | None:
    """The holidays of a year in order, None when nothing is known of the place. Two queries."""
    holidays = holidays_of(provider, year, language)
    if holidays is None:
        return None
    closures = list(_closures(provider, DateSpan.year(year)))
    opening = list(OpeningHours.objects.filter(provider=provider))
    return [
        HolidayRow(
            each,
            next((row for row in closures if row.start <= each.day < row.end), None),
            any(_holds(row, each.day) for row in opening),
        )
        for each in holidays
    ]


def _closures(provider: Provider, span: DateSpan) -> QuerySet[Closure]:
    return Closure.objects.filter(
        provider=provider, voided_at__isnull=True, start__lt=span.end, end__gt=span.start
    ).order_by("start")


# Feeds


def feeds_of(provider: Provider) -> QuerySet[CalendarFeed]:
    """Feeds that may be read, the oldest first."""
    return CalendarFeed.objects.filter(provider=provider, revoked_at__isnull=True).order_by("pk")


def feed_entries(provider: Provider, today: date) -> list[Entry]:
    """What every registered room tells around today, without titles in which a child could be recognised."""
    span = DateSpan(today - BACK, today + AHEAD)
    names = _names(provider)
    instead = {"closure": _("Closed"), "theme": _("Theme"), "task": _("Something is due")}
    return [
        replace(entry, title=instead[entry.kind]) if names & _words(entry.title) else entry
        for source in doors.feed_events
        for entry in source(provider, span, today)
    ]


def _names(provider: Provider) -> set[str]:
    """Every word of the names of children here, before, or on the waiting list. Two queries."""
    known = [
        *Child.objects.filter(provider=provider).values_list("name", "preferred_name"),
        *WaitingChild.objects.filter(provider=provider).values_list("child_name"),
    ]
    return {word for names in known for name in names for word in _words(name)}


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", text.casefold()))


def closure_entries(provider: Provider, span: DateSpan, today: date) -> Iterator[Entry]:
    """One query."""
    for row in _closures(provider, span):
        title = _("Closed: %(reason)s") % {"reason": row.reason}
        yield Entry("closure", row.public_id, title, DateSpan(row.start, row.end), row.version - 1)


def task_entries(provider: Provider, span: DateSpan, today: date) -> Iterator[Entry]:
    """Drills and home checks, the provider's own papers and those of families, on the day each is due. Six queries."""
    titles = {Reminder.DRILL: _("Emergency drill is due"), Reminder.HOME_CHECK: _("Home check is due")}
    for task in due(provider, today):
        yield from _task(f"{task.what}-{provider.public_id}", titles[task.what], max(task.due_on, today), span)
    for person in own_papers(provider, today):
        for card in person.cards:
            title = _("A paper of your own lapses: %(kind)s") % {"kind": card.paper.get_kind_display()}
            yield from _task(card.paper.public_id, title, card.paper.expires_on, span)
    for folder in family_papers_due(provider, today):
        title = _("A paper of a child lapses") if folder.paper.child_id else _("A paper of a family lapses")
        yield from _task(folder.paper.public_id, title, folder.paper.expires_on, span)


def _task(key: str, title: str, day: date | None, span: DateSpan) -> Iterable[Entry]:
    return [Entry("task", key, title, DateSpan(day, day + ONE_DAY))] if day and day in span else []
