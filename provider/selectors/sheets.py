"""The sign-in sheet on paper, whom to count when everybody must leave the house, and how a record came about."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.core.exceptions import FieldDoesNotExist
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format, time_format
from django.utils.timezone import localtime

from provider.hours import hours, minutes
from provider.models import (
    Attendance,
    AuditEntry,
    CareNeed,
    Child,
    Collector,
    EmergencyContact,
    Enrolment,
    Guardian,
    Provider,
)
from provider.models.base import Row, holds_on, meets
from provider.periods import DateSpan
from provider.selectors.stays import still_here


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A stay with its length in hours (None while it lasts), or an absence. `corrected` says that it was typed anew."""

    record: Attendance
    hours: Decimal | None
    next_day: bool
    corrected: bool


@dataclass(frozen=True, slots=True)
class SheetChild:
    """A child's lines in order of time; `days` counts days with a stay, `hours` is rounded once."""

    child: Child
    lines: tuple[SheetLine, ...]
    days: int
    hours: Decimal


@dataclass(frozen=True, slots=True)
class SignInSheet:
    span: DateSpan
    children: tuple[SheetChild, ...]
    child_days: int
    hours: Decimal


def sign_in_sheet(provider: Provider, span: DateSpan) -> SignInSheet:
    """Who came, when, and who signed, by the day on which a stay began; enrolled children stand on it in any case.

    Three queries for any number of children and days.
    """
    enrolled = Enrolment.objects.filter(meets(span), provider=provider).select_related("child")
    children = {each.child_id: each.child for each in enrolled}
    records = Attendance.objects.filter(
        provider=provider, voided_at__isnull=True, day__gte=span.start, day__lt=span.end
    ).select_related("child")
    corrected = set(
        AuditEntry.objects.filter(
            provider=provider, verb="correct", object_public_id__in=records.values("public_id")
        ).values_list("object_public_id", flat=True)
    )
    lines: dict[int, list[SheetLine]] = defaultdict(list)
    for record in records.order_by("day", "arrived_at", "pk"):
        children.setdefault(record.child_id, record.child)
        lines[record.child_id].append(_line(record, provider, record.public_id in corrected))
    of_all = tuple(
        _sheet_child(child, tuple(lines[child.pk]))
        for child in sorted(children.values(), key=lambda child: str(child).casefold())
    )
    return SignInSheet(
        span,
        of_all,
        sum(each.days for each in of_all),
        hours(sum(_minutes(line.record) for each in of_all for line in each.lines)),
    )


def _sheet_child(child: Child, lines: tuple[SheetLine, ...]) -> SheetChild:
    days = {line.record.day for line in lines if not line.record.absence}
    return SheetChild(child, lines, len(days), hours(sum(_minutes(line.record) for line in lines)))


def _line(record: Attendance, provider: Provider, corrected: bool) -> SheetLine:
    left = record.left_at
    return SheetLine(
        record,
        hours(_minutes(record)) if left else None,
        bool(left and localtime(left, provider.zone).date() > record.day),
        corrected,
    )


def _minutes(record: Attendance) -> int:
    return minutes([(record.arrived_at, record.left_at)]) if record.arrived_at and record.left_at else 0


@dataclass(frozen=True, slots=True)
class PresentChild:
    """A child in the house, whom to call for it and what it needs."""

    stay: Attendance
    guardians: tuple[Guardian, ...]
    contacts: tuple[EmergencyContact, ...]
    needs: tuple[CareNeed, ...]

    @property
    def child(self) -> Child:
        return self.stay.child


def here_now(provider: Provider, today: date) -> list[PresentChild]:
    """Every child that is signed in, also since an earlier day: better one name too many. Four queries."""
    stays = list(still_here(provider))
    guardians, contacts, needs = defaultdict(list), defaultdict(list), defaultdict(list)
    households = {stay.child.household_id for stay in stays}
    children = {stay.child_id for stay in stays}
    for guardian in Guardian.objects.filter(provider=provider, household__in=households).order_by("pk"):
        guardians[guardian.household_id].append(guardian)
    listed = EmergencyContact.objects.filter(provider=provider, child__in=children, voided_at__isnull=True)
    for contact in listed.order_by("position", "pk"):
        contacts[contact.child_id].append(contact)
    for need in CareNeed.objects.filter(holds_on(today), provider=provider, child__in=children, voided_at__isnull=True):
        needs[need.child_id].append(need)
    return [
        PresentChild(
            stay,
            tuple(guardians[stay.child.household_id]),
            tuple(contacts[stay.child_id]),
            tuple(needs[stay.child_id]),
        )
        for stay in sorted(stays, key=lambda stay: str(stay.child).casefold())
    ]


def collectors_of(child: Child, day: date) -> tuple[list[Guardian], list[Collector]]:
    """The guardians, and who else may collect the child on `day`. Two queries."""
    listed = Collector.objects.filter(holds_on(day), child=child, voided_at__isnull=True).order_by("name")
    return list(Guardian.objects.filter(household=child.household_id).order_by("pk")), list(listed)


def last_collector(child: Child) -> str:
    """The name of whoever collected the child last, or nothing."""
    last = Attendance.objects.filter(child=child, voided_at__isnull=True).exclude(collected_by="")
    return last.order_by("-day", "-pk").values_list("collected_by", flat=True).first() or ""


@dataclass(frozen=True, slots=True)
class Change:
    """One field that an act changed, in words: its label, before and after."""

    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Act:
    """Something that was done with a record."""

    at: datetime
    who: str
    what: str
    changes: tuple[Change, ...]


def trail_of(row: Row, provider: Provider) -> list[Act]:
    """Who did what with a record, latest first, with what was there before and after. One query."""
    entries = AuditEntry.objects.filter(provider=provider, object_public_id=row.public_id).order_by("-pk")
    return [
        Act(
            entry.at,
            entry.actor_label,
            entry.summary,
            tuple(
                Change(_label(row, name), _told(before, provider), _told(after, provider))
                for name, (before, after) in entry.changes.items()
                if name != "voided_at"
            ),
        )
        for entry in entries
    ]


def _label(row: Row, name: str) -> str:
    try:
        return str(row._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
    except FieldDoesNotExist:
        return name


def _told(value: str | None, provider: Provider) -> str:
    """A value of the trail; an instant as local date and time."""
    try:
        moment = parse_datetime(value or "")
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        return value or "–"
    local = localtime(moment, provider.zone)
    return f"{date_format(local, 'MONTH_DAY_FORMAT')}, {time_format(local)}"
