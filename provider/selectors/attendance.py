"""Who is expected, here and gone on a day, and the month as a grid."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal

from django.db.models import Q

from provider.hours import Interval, hours, minutes
from provider.models import Attendance, AuditEntry, Child, Closure, Enrolment, OpeningHours, PatternDay, Provider
from provider.models.base import holds_on, meets
from provider.periods import DateSpan, WeekPattern, WeekSlot
from provider.selectors.needs import children_with_allergies
from provider.selectors.stays import LONGEST_STAY, still_here
from provider.services.attendance import UNDO_WITHIN, UNDOABLE

# Being a little late is nothing to write down.
LATE_AFTER = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class ChildDay:
    """One child on one day. `planned` is empty when it is not expected; `stays` are in order of arrival.

    `late` is how many minutes after the planned time it came, or has not come yet; 0 up to a quarter of an hour.
    `undo` is the record whose last act may still be undone.
    """

    child: Child
    planned: tuple[WeekSlot, ...]
    stays: tuple[Attendance, ...]
    absence: Attendance | None
    late: int = 0
    undo: Attendance | None = None
    is_allergic: bool = False

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
    def collected_by(self) -> str:
        return self.stays[-1].collected_by if self.stays else ""

    @property
    def hours(self) -> Decimal:
        return hours(minutes(_intervals(self.stays)))


@dataclass(frozen=True, slots=True)
class DaySheet:
    """A day of the house.

    `overnight` are stays that began on an earlier day, less than 24 hours ago, and have not ended; `forgotten` are
    older ones.
    """

    day: date
    opening: OpeningHours | None
    closure: Closure | None
    children: tuple[ChildDay, ...]
    forgotten: tuple[Attendance, ...]
    overnight: tuple[Attendance, ...] = ()

    def among(self, *states: str) -> list[ChildDay]:
        return [each for each in self.children if each.state in states]

    @property
    def count_here(self) -> int:
        return len(self.here) + len(self.overnight)

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


def day_sheet(provider: Provider, day: date, now: datetime | None = None) -> DaySheet:
    """Every enrolled child on `day`, and whoever else was here. Six queries.

    With `now`, the page that is acted on: it also knows who is late or stays overnight and what may be undone. Seven.
    """
    effective = holds_on(day)
    enrolments = list(
        Enrolment.objects.filter(effective, provider=provider).select_related("child").order_by("child__name")
    )
    patterns: dict[int, list[WeekSlot]] = defaultdict(list)
    for row in PatternDay.objects.filter(effective, provider=provider, weekday=day.weekday()):
        patterns[row.enrolment_id].append(row.slot)
    records: dict[int, list[Attendance]] = defaultdict(list)
    children = {each.child_id: each.child for each in enrolments}
    for record in _records(provider, Q(day=day)):
        records[record.child_id].append(record)
        children.setdefault(record.child_id, record.child)
    forgotten = sorted(still_here(provider).filter(day__lt=day), key=lambda stay: stay.day)
    closure = Closure.objects.filter(provider=provider, voided_at__isnull=True, start__lte=day, end__gt=day).first()
    opening = OpeningHours.objects.filter(effective, provider=provider, weekday=day.weekday()).first()
    planned = {each.child_id: WeekPattern(tuple(patterns[each.pk])).on(day) for each in enrolments}
    undoable = _undoable(provider, now) if now else set()
    allergic = children_with_allergies(provider, day)

    def of(child: Child) -> ChildDay:
        slots = () if closure else planned.get(child.pk, ())
        stays = tuple(each for each in records[child.pk] if not each.absence)
        absence = next((each for each in records[child.pk] if each.absence), None)
        came = stays[0].arrived_at if stays else None if absence else now
        undo = next((each for each in reversed(records[child.pk]) if each.public_id in undoable), None)
        return ChildDay(
            child, slots, stays, absence, minutes_late(slots, day, came, provider.zone), undo, child.pk in allergic
        )

    fresh = [each for each in forgotten if now and each.arrived_at and now - each.arrived_at < LONGEST_STAY]
    return DaySheet(
        day,
        opening,
        closure,
        tuple(of(child) for child in sorted(children.values(), key=lambda child: str(child).casefold())),
        tuple(each for each in forgotten if each not in fresh),
        tuple(fresh),
    )


def minutes_late(slots: tuple[WeekSlot, ...], day: date, came: datetime | None, zone: tzinfo) -> int:
    """Whole minutes from the first planned arrival to `came`; 0 when that is no more than a quarter of an hour."""
    if not slots or came is None:
        return 0
    delay = came.astimezone(UTC) - datetime.combine(day, slots[0].start, zone).astimezone(UTC)
    return int(delay.total_seconds() // 60) if delay > LATE_AFTER else 0


def _undoable(provider: Provider, now: datetime) -> set[str]:
    """Public ids of records whose latest act may be undone."""
    latest = AuditEntry.objects.filter(
        provider=provider, at__gte=now - UNDO_WITHIN, object_kind=Attendance._meta.label_lower
    )
    verbs = dict(latest.order_by("pk").values_list("object_public_id", "verb"))
    return {public_id for public_id, verb in verbs.items() if verb in UNDOABLE}


@dataclass(frozen=True, slots=True)
class GridCell:
    """Hours of a child on a day; None when there is nothing, `absent` when it was said not to come."""

    day: date
    hours: Decimal | None
    absent: bool


@dataclass(frozen=True, slots=True)
class GridRow:
    """One child's month."""

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
        for each in Enrolment.objects.filter(meets(span), provider=provider).select_related("child")
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
    """All finished stays of children in care that began in a closed span, as aware intervals. One query.

    The provider's own children live here: their time is no business use of the home.
    """
    rows = Attendance.objects.filter(
        provider=provider,
        voided_at__isnull=True,
        child__is_own_child=False,
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
