"""Who is expected, here and gone on a day, and the month as a grid."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from typing import cast

from django.db.models import Q

from provider.hours import Interval, hours, minutes
from provider.models import Attendance, Child, Closure, Enrolment, OpeningHours, PatternDay, Provider
from provider.periods import Cycle, DateSpan, WeekPattern, WeekSlot


@dataclass(frozen=True, slots=True)
class ChildDay:
    """One child on one day. `planned` is empty when it is not expected; `stays` are in order of arrival."""

    child: Child
    planned: tuple[WeekSlot, ...]
    stays: tuple[Attendance, ...]
    absence: Attendance | None

    @property
    def open_stay(self) -> Attendance | None:
        return next((stay for stay in self.stays if stay.left_at is None), None)

    @property
    def state(self) -> str:
        """One of here, gone, absent, expected, away."""
        if self.open_stay:
            return "here"
        if self.stays:
            return "gone"
        if self.absence:
            return "absent"
        return "expected" if self.planned else "away"

    @property
    def planned_until(self) -> time | None:
        return self.planned[-1].end if self.planned else None

    @property
    def hours(self) -> Decimal:
        return hours(minutes(_intervals(self.stays)))


@dataclass(frozen=True, slots=True)
class DaySheet:
    """A day of the house. `forgotten` are stays of earlier days without a departure."""

    day: date
    opening: OpeningHours | None
    closure: Closure | None
    children: tuple[ChildDay, ...]
    forgotten: tuple[Attendance, ...]

    def among(self, *states: str) -> list[ChildDay]:
        return [each for each in self.children if each.state in states]

    @property
    def here(self) -> list[ChildDay]:
        return self.among("here")

    @property
    def expected(self) -> list[ChildDay]:
        return self.among("expected")

    @property
    def done(self) -> list[ChildDay]:
        return self.among("gone", "absent")

    @property
    def away(self) -> list[ChildDay]:
        return self.among("away")


def day_sheet(provider: Provider, day: date) -> DaySheet:
    """Every enrolled child on `day`, and whoever else was here. Five queries."""
    effective = Q(start__lte=day) & (Q(end__isnull=True) | Q(end__gt=day))
    enrolments = list(
        Enrolment.objects.filter(effective, provider=provider).select_related("child").order_by("child__name")
    )
    patterns: dict[int, list[WeekSlot]] = defaultdict(list)
    for slot in PatternDay.objects.filter(effective, provider=provider, weekday=day.weekday()):
        patterns[slot.enrolment_id].append(WeekSlot(slot.weekday, slot.arrives, slot.leaves, cast(Cycle, slot.cycle)))
    records: dict[int, list[Attendance]] = defaultdict(list)
    children = {each.child_id: each.child for each in enrolments}
    forgotten = []
    for record in _records(provider, Q(day=day) | Q(day__lt=day, arrived_at__isnull=False, left_at__isnull=True)):
        if record.day < day:
            forgotten.append(record)
        else:
            records[record.child_id].append(record)
            children.setdefault(record.child_id, record.child)
    closure = Closure.objects.filter(provider=provider, voided_at__isnull=True, start__lte=day, end__gt=day).first()
    opening = OpeningHours.objects.filter(effective, provider=provider, weekday=day.weekday()).first()
    planned = {each.child_id: WeekPattern(tuple(patterns[each.pk])).on(day) for each in enrolments}
    return DaySheet(
        day,
        opening,
        closure,
        tuple(
            ChildDay(
                child,
                () if closure else planned.get(pk, ()),
                tuple(each for each in records[pk] if not each.absence),
                next((each for each in records[pk] if each.absence), None),
            )
            for pk, child in sorted(children.items(), key=lambda item: str(item[1]).casefold())
        ),
        tuple(forgotten),
    )


@dataclass(frozen=True, slots=True)
class GridCell:
    """Hours of a child on a day; None when there is nothing, `absent` when it was said not to come."""

    day: date
    hours: Decimal | None
    absent: bool


@dataclass(frozen=True, slots=True)
class GridRow:
    child: Child
    cells: tuple[GridCell, ...]
    days: int
    hours: Decimal


@dataclass(frozen=True, slots=True)
class MonthGrid:
    """Children by days of a month. `present` counts children on each day; hours sum minutes and are rounded once."""

    span: DateSpan
    days: tuple[date, ...]
    rows: tuple[GridRow, ...]
    present: tuple[int, ...]
    child_days: int
    hours: Decimal


def month_grid(provider: Provider, span: DateSpan) -> MonthGrid:
    """Attendance of a closed span, by the day on which a stay began. Two queries."""
    records: dict[tuple[int, date], list[Attendance]] = defaultdict(list)
    children = {
        each.child_id: each.child
        for each in Enrolment.objects.filter(
            Q(end__isnull=True) | Q(end__gt=span.start), provider=provider, start__lt=span.end
        ).select_related("child")
    }
    for record in _records(provider, Q(day__gte=span.start, day__lt=span.end)):
        records[record.child_id, record.day].append(record)
        children.setdefault(record.child_id, record.child)
    days = tuple(span.iter_days())
    spent = {key: minutes(_intervals(group)) for key, group in records.items()}
    was_here = {key for key, group in records.items() if any(not each.absence for each in group)}
    rows = tuple(
        GridRow(
            child,
            tuple(
                GridCell(
                    day,
                    hours(spent[pk, day]) if (pk, day) in was_here else None,
                    (pk, day) in records and (pk, day) not in was_here,
                )
                for day in days
            ),
            sum((pk, day) in was_here for day in days),
            hours(sum(spent.get((pk, day), 0) for day in days)),
        )
        for pk, child in sorted(children.items(), key=lambda item: str(item[1]).casefold())
    )
    return MonthGrid(
        span,
        days,
        rows,
        tuple(sum((pk, day) in was_here for pk in children) for day in days),
        len(was_here),
        hours(sum(spent.values())),
    )


def stay_intervals(provider: Provider, span: DateSpan) -> list[Interval]:
    """All finished stays that began in a closed span, as aware intervals. One query."""
    rows = Attendance.objects.filter(
        provider=provider,
        voided_at__isnull=True,
        day__gte=span.start,
        day__lt=span.end,
        arrived_at__isnull=False,
        left_at__isnull=False,
    )
    return [(arrived, left) for arrived, left in rows.values_list("arrived_at", "left_at") if arrived and left]


def _records(provider: Provider, which: Q) -> list[Attendance]:
    rows = Attendance.objects.filter(which, provider=provider, voided_at__isnull=True).select_related("child")
    return list(rows.order_by("arrived_at", "pk"))


def _intervals(stays: tuple[Attendance, ...] | list[Attendance]) -> list[Interval]:
    return [(stay.arrived_at, stay.left_at) for stay in stays if stay.arrived_at and stay.left_at]
