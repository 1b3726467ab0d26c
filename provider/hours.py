"""Time worked or attended, from intervals of aware datetimes. Seconds are dropped at both ends of an interval."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal

from provider.money import round_half_up
from provider.periods import DateSpan

Interval = tuple[datetime, datetime]


def to_minute(moment: datetime) -> datetime:
    """The whole minute of an aware moment, in UTC, so that equal times compare equal."""
    return moment.astimezone(UTC).replace(second=0, microsecond=0)


def instants(span: DateSpan, zone: tzinfo) -> Interval:
    """The midnights at which a closed span begins and ends where clocks show `zone`, in UTC."""
    start, end = (datetime.combine(day, time.min, zone) for day in (span.start, span.last_day + timedelta(days=1)))
    return start.astimezone(UTC), end.astimezone(UTC)


def clip(interval: Interval, bounds: Interval) -> Interval | None:
    """The part of an interval inside `bounds`, or None when nothing is."""
    start, end = max(interval[0], bounds[0]), min(interval[1], bounds[1])
    return (start, end) if start < end else None


def merge(intervals: Iterable[Interval]) -> list[Interval]:
    """Overlapping and touching intervals joined, in order, in UTC. ValueError: naive, or an end before its start."""
    merged: list[Interval] = []
    for start, end in sorted(_in_utc(*interval) for interval in intervals):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        elif start < end:
            merged.append((start, end))
    return merged


def minutes(intervals: Iterable[Interval]) -> int:
    """Whole minutes covered by at least one interval."""
    return sum(_length(start, end) for start, end in merge(intervals))


def minutes_by_date(intervals: Iterable[Interval], zone: tzinfo) -> dict[date, int]:
    """Minutes covered on each local date, in date order. They sum to `minutes` over midnight and clock changes."""
    by_date: dict[date, int] = {}
    for start, end in merge(intervals):
        while start < end:
            day = start.astimezone(zone).date()
            midnight = datetime.combine(day + timedelta(days=1), time.min, zone).astimezone(UTC)
            until = min(end, midnight)
            by_date[day] = by_date.get(day, 0) + _length(start, until)
            start = until
    return by_date


def hours(minute_count: int) -> Decimal:
    """Minutes as hours with two decimals: 90 as 1.50."""
    return round_half_up(Decimal(minute_count) / 60)


def total_hours(intervals: Iterable[Interval]) -> Decimal:
    """Hours covered by at least one interval, rounded once on the total."""
    return hours(minutes(intervals))


def _in_utc(start: datetime, end: datetime) -> Interval:
    if start.tzinfo is None or end.tzinfo is None:
        raise ValueError("an interval needs datetimes with a time zone")
    # Python subtracts two datetimes of one zone by the wall clock; only UTC counts the hour gained or lost.
    start, end = to_minute(start), to_minute(end)
    if end < start:
        raise ValueError(f"an interval ends before it starts: {start} to {end}")
    return start, end


def _length(start: datetime, end: datetime) -> int:
    return (end - start) // timedelta(minutes=1)
