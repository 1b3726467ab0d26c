"""Half-open spans of dates and weekly care patterns. Nothing here reads a clock."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Literal

ONE_DAY = timedelta(days=1)
Cycle = Literal["every", "odd", "even"]


@dataclass(frozen=True, slots=True)
class DateSpan:
    """The days from `start` up to but not including `end`; `end=None` is open. ValueError when no day is inside."""

    start: date
    end: date | None = None

    def __post_init__(self) -> None:
        if self.end is not None and self.end <= self.start:
            raise ValueError(f"a span must end after it starts: {self.start} to {self.end}")

    @classmethod
    def month(cls, year: int, month: int) -> "DateSpan":
        following = date(year + 1, 1, 1) if month == 12 else date(year, month + 1, 1)
        return cls(date(year, month, 1), following)

    @classmethod
    def year(cls, year: int) -> "DateSpan":
        return cls(date(year, 1, 1), date(year + 1, 1, 1))

    @classmethod
    def day(cls, day: date) -> "DateSpan":
        return cls(day, day + ONE_DAY)

    @classmethod
    def week(cls, day: date) -> "DateSpan":
        """The week, Monday to Sunday, that holds `day`."""
        monday = day - timedelta(days=day.weekday())
        return cls(monday, monday + timedelta(days=7))

    @property
    def days(self) -> int:
        """Number of days. ValueError for an open span."""
        return (self._closed_end() - self.start).days

    @property
    def last_day(self) -> date:
        """The last day inside. ValueError for an open span."""
        return self._closed_end() - ONE_DAY

    def __contains__(self, day: date) -> bool:
        return self.start <= day and (self.end is None or day < self.end)

    def overlaps(self, other: "DateSpan") -> bool:
        return self.intersect(other) is not None

    def intersect(self, other: "DateSpan") -> "DateSpan | None":
        """The days in both, or None when there are none."""
        start = max(self.start, other.start)
        end = min((each for each in (self.end, other.end) if each is not None), default=None)
        return None if end is not None and end <= start else DateSpan(start, end)

    def clip(self, bounds: "DateSpan") -> "DateSpan":
        """Like `intersect`, but ValueError when nothing is left."""
        inside = self.intersect(bounds)
        if inside is None:
            raise ValueError(f"{self} lies outside {bounds}")
        return inside

    def iter_days(self) -> Iterator[date]:
        """Each day in order. ValueError for an open span."""
        return (self.start + timedelta(days=number) for number in range(self.days))

    def __str__(self) -> str:
        return f"{self.start} to {self.last_day}" if self.end else f"from {self.start}"

    def _closed_end(self) -> date:
        if self.end is None:
            raise ValueError(f"the span from {self.start} is open")
        return self.end


@dataclass(frozen=True, slots=True)
class WeekSlot:
    """Care agreed on one weekday (0 Monday to 6 Sunday); an `end` at or before `start` is on the next morning.

    `odd` and `even` are the parity of the ISO week number, which has two odd weeks running after a year of 53 weeks.
    """

    weekday: int
    start: time
    end: time
    cycle: Cycle = "every"

    def __post_init__(self) -> None:
        if self.weekday not in range(7):
            raise ValueError(f"weekday {self.weekday} is not 0 to 6")
        if self.start == self.end:
            raise ValueError("care must end at another time than it starts")
        if self.cycle not in ("every", "odd", "even"):
            raise ValueError(f"cycle {self.cycle!r} is not every, odd or even")

    def falls_on(self, day: date) -> bool:
        if day.weekday() != self.weekday:
            return False
        return self.cycle == "every" or (day.isocalendar().week % 2 == 1) == (self.cycle == "odd")


@dataclass(frozen=True, slots=True)
class WeekPattern:
    """The slots of a usual week, in any order; several on one weekday are allowed (before and after school)."""

    slots: tuple[WeekSlot, ...]

    def on(self, day: date) -> tuple[WeekSlot, ...]:
        return tuple(sorted((slot for slot in self.slots if slot.falls_on(day)), key=lambda slot: slot.start))


def weekday_dates(span: DateSpan, weekdays: Collection[int]) -> list[date]:
    """The days of a closed span that fall on `weekdays` (0 Monday to 6 Sunday)."""
    return [day for day in span.iter_days() if day.weekday() in weekdays]


def scheduled_days(pattern: WeekPattern, span: DateSpan, closed: Collection[date] = ()) -> list[date]:
    """The care days of a closed span: days with a slot, without those in `closed`."""
    return [day for day in span.iter_days() if pattern.on(day) and day not in closed]


def years_after(day: date, years: int) -> date:
    """The same day `years` later; 1 March when that year has no 29 February."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
