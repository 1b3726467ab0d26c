"""What the frame of every page needs: business, role, month strip, doors."""

from calendar import monthrange
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django.http import HttpRequest
from django.utils.formats import date_format
from django.utils.functional import SimpleLazyObject

from provider.doors import MonthTheme, OpenDoor, open_doors, theme_of_day
from provider.models import Closure, OpeningHours, Provider


@dataclass(frozen=True, slots=True)
class StripDay:
    """A day of the month strip."""

    date: date
    number: int
    is_today: bool
    is_weekend: bool
    is_closed: bool


@dataclass(frozen=True, slots=True)
class Strip:
    """The month strip at the top of every page."""

    month_label: str
    days: list[StripDay]
    theme_name: str
    theme_hue: int | None
    theme_url: str


@dataclass(frozen=True, slots=True)
class Frame:
    provider: Provider
    role: str
    today: date
    user_label: str
    strip: Strip
    doors: list[OpenDoor]


def month_strip(provider: Provider, today: date, theme: MonthTheme | None) -> Strip:
    """The days of this month; a day without opening hours counts as weekend, a closure as closed."""
    first = today.replace(day=1)
    last = first.replace(day=monthrange(today.year, today.month)[1])
    closures = Closure.objects.filter(
        provider=provider, voided_at__isnull=True, start__lte=last, end__gt=first
    ).values_list("start", "end")
    shut = {start + timedelta(days=n) for start, end in closures for n in range((end - start).days)}
    hours = OpeningHours.objects.filter(provider=provider, start__lte=last).values_list("weekday", "start", "end")
    spans = list(hours)
    days = []
    for number in range(1, last.day + 1):
        day = first.replace(day=number)
        is_open = any(w == day.weekday() and start <= day and (end is None or day < end) for w, start, end in spans)
        days.append(StripDay(day, number, day == today, not is_open, day in shut))
    return Strip(
        date_format(today, "YEAR_MONTH_FORMAT"),
        days,
        theme.name if theme else "",
        theme.hue if theme else None,
        theme.url if theme else "",
    )


def _frame(request: HttpRequest) -> Frame | None:
    visit = getattr(request, "visit", None)
    if visit is None:
        return None
    theme = next((found for find in theme_of_day if (found := find(visit.provider, visit.today))), None)
    doors = open_doors(visit.provider, visit.role, _door_of(request))
    if theme and "theme" not in {door.key for door in doors}:
        theme = replace(theme, url="")  # named, but this door is closed to her
    return Frame(
        visit.provider,
        visit.role,
        visit.today,
        str(visit.user),
        month_strip(visit.provider, visit.today, theme if visit.role != "family" else None),
        doors,
    )


def _door_of(request: HttpRequest) -> str:
    """The door named by the part of the address after the slug: /<slug>/money/... is Money."""
    parts = request.path.strip("/").split("/")
    return parts[1].replace("-", "_") if len(parts) > 1 else ""


def desk(request: HttpRequest) -> dict[str, Any]:
    return {"desk": SimpleLazyObject(lambda: _frame(request))}
