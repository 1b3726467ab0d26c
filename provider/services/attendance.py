"""Stays and absences of children. Every act takes `now`, the aware instant at the edge: nothing lies in the future."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_past_day, require_reason
from provider.hours import to_minute
from provider.models import Attendance, AuditEntry, Child, Collector, Guardian, Provider, User
from provider.services.stays import (
    CAME_AFTER_ALL,
    check_against,
    check_times,
    end_stay,
    insert_stay,
    records_around,
)

UNDO_WITHIN = timedelta(minutes=10)
UNDOABLE = ("sign in", "sign out", "absent")


class NotListed(DomainError):
    """Whoever takes the child home is neither a guardian nor listed for that day, and no note says why."""


class TooLateToUndo(DomainError):
    """The record is older than ten minutes, or something else was done with it since: correct it instead."""


@dataclass(frozen=True, slots=True)
class StayInput:
    """A stay (`arrived_at` and perhaps `left_at`, aware) or an absence with its reason."""

    child: Child
    arrived_at: datetime | None = None
    left_at: datetime | None = None
    absence: str = ""
    note: str = ""


def record_day(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    day: date,
    stays: Iterable[StayInput],
    submission_key: str = "",
) -> list[Attendance]:
    """Record a whole day at once, in a constant number of queries. All or nothing.

    Raises what `record_stay` raises. An absence is not replaced here: a child has stays or one absence.
    """
    stays = list(stays)
    with writing(provider, actor) as desk:
        if not stays or (submission_key and desk.once(submission_key, Attendance)):
            return list(Attendance.objects.filter(provider=desk.provider, day=day, voided_at__isnull=True))
        desk.require_open(day, field="day")
        require_past_day(day, today, field="day")
        rows = [
            Attendance(
                provider=desk.provider,
                child=stay.child,
                day=day,
                arrived_at=stay.arrived_at and to_minute(stay.arrived_at),
                left_at=stay.left_at and to_minute(stay.left_at),
                absence=stay.absence,
                note=stay.note,
            )
            for stay in stays
        ]
        known = records_around(desk.provider, [stay.child for stay in stays], day)
        for row in rows:
            check_times(row, now, confirmed=True)
            check_against(row, known)
            known.append(row)
        desk.create_many(rows)
        desk.audit(
            "record",
            rows[0],
            _("Recorded attendance of %(count)d children on %(day)s")
            % {"count": len({row.child_id for row in rows}), "day": date_format(day)},
        )
        desk.done(submission_key, rows[0])
        return rows


def sign_in_child(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    at: datetime | None = None,
    brought_by: str = "",
    submission_key: str = "",
) -> Attendance:
    """The child arrived `at` (default now). An absence said before for that day is taken out."""
    at = at or now
    return record_stay(
        provider=provider,
        actor=actor,
        today=today,
        now=now,
        child=child,
        day=localtime(at, provider.zone).date(),
        arrived_at=at,
        brought_by=brought_by,
        submission_key=submission_key,
    )


def sign_out_child(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    at: datetime | None = None,
    collector: Guardian | Collector | None = None,
    other: str = "",
    note: str = "",
    submission_key: str = "",
) -> Attendance:
    """The child left `at` (default now), with a guardian or a listed `collector`, or with an `other` person and a note.

    Raises NotHere when it is not signed in, LongStay when for over a day, and NotListed (field `other` or `note`).
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        left_at = at or now
        if collector is not None:
            check_collector(collector, child, localtime(left_at, provider.zone).date())
        elif other.strip() and not note.strip():
            raise NotListed(_("Say who allowed it. This person is not on the child's list."), field="note")
        row = end_stay(
            desk, now=now, child=child, at=left_at, collected_by=str(collector or other.strip()), note=note.strip()
        )
        desk.done(submission_key, row)
        return row


def check_collector(collector: Guardian | Collector, child: Child, day: date) -> None:
    """Raise NotListed unless the child may be handed over to them on the local date `day`."""
    if isinstance(collector, Guardian):
        listed = collector.household_id == child.household_id
    else:
        listed = (
            collector.child_id == child.pk
            and collector.voided_at is None
            and collector.start <= day
            and (collector.end is None or day < collector.end)
        )
    if not listed:
        raise NotListed(_("%(name)s may not collect %(child)s today.") % {"name": collector, "child": child})


def record_stay(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    day: date,
    arrived_at: datetime,
    left_at: datetime | None = None,
    note: str = "",
    brought_by: str = "",
    collected_by: str = "",
    confirmed: bool = False,
    submission_key: str = "",
) -> Attendance:
    """Record one stay that began on the local date `day`; without `left_at` the child is still here.

    Raises AttendanceOverlap, LongStay (field `left_at`), PeriodLocked, and DomainError for a time in the future, a
    departure before the arrival or an arrival on another day.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        row = insert_stay(
            desk,
            today=today,
            now=now,
            child=child,
            day=day,
            arrived_at=arrived_at,
            left_at=left_at,
            note=note,
            brought_by=brought_by,
            collected_by=collected_by,
            confirmed=confirmed,
        )
        desk.done(submission_key, row)
        return row


def record_absence(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    day: date,
    absence: str,
    note: str = "",
    submission_key: str = "",
) -> Attendance:
    """The child does not come on `day`, for the reason `absence`. A coming day may be given: families call ahead."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        desk.require_open(day, field="day")
        if not absence.strip():
            raise DomainError(_("Say why the child does not come."), field="absence")
        row = Attendance(provider=desk.provider, child=child, day=day, absence=absence.strip(), note=note)
        check_against(row, records_around(desk.provider, [child], day))
        desk.save(
            row,
            verb="absent",
            summary=_("%(child)s absent on %(day)s") % {"child": child, "day": date_format(day)},
        )
        desk.done(submission_key, row)
        return row


def correct_attendance(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    attendance: Attendance,
    version: int,
    reason: str,
    arrived_at: datetime | None = None,
    left_at: datetime | None = None,
    absence: str = "",
    note: str = "",
    brought_by: str | None = None,
    collected_by: str | None = None,
    confirmed: bool = False,
    submission_key: str = "",
) -> Attendance:
    """Correct the times (or the reason of an absence) of a record, keeping what it was and why in the history.

    Who brought and collected the child stays as it was when None. Raises StaleRow, and what `record_stay` raises.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        row = desk.fresh(attendance, version)
        desk.require_open(row.day)
        if row.voided_at:
            raise DomainError(_("This record was taken out of the books."))
        require_reason(reason)
        row.arrived_at, row.left_at = arrived_at and to_minute(arrived_at), left_at and to_minute(left_at)
        row.absence, row.note = absence.strip(), note
        row.brought_by = row.brought_by if brought_by is None else brought_by.strip()
        row.collected_by = row.collected_by if collected_by is None else collected_by.strip()
        check_times(row, now, confirmed=confirmed)
        check_against(row, records_around(desk.provider, [row.child], row.day))
        desk.save(
            row,
            verb="correct",
            summary=_("Corrected %(row)s: %(reason)s") % {"row": row, "reason": reason},
        )
        desk.done(submission_key, row)
        return row


def void_attendance(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    attendance: Attendance,
    reason: str,
    submission_key: str = "",
) -> Attendance:
    """Take a record out of the books; the history keeps it with the reason."""
    with writing(provider, actor) as desk:
        row = Attendance.objects.select_related("child").get(pk=attendance.pk, provider=desk.provider)
        if row.voided_at:
            return row
        desk.require_open(row.day)
        return desk.void(row, reason=reason)


def note_attendance(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    attendance: Attendance,
    version: int,
    note: str,
    submission_key: str = "",
) -> Attendance:
    """Say something about a stay, such as why the child came late. Raises StaleRow and PeriodLocked."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        row = desk.fresh(attendance, version)
        desk.require_open(row.day)
        row.note = note.strip()
        desk.save(row, verb="note", summary=_("Noted for %(row)s: %(note)s") % {"row": row, "note": row.note or "–"})
        desk.done(submission_key, row)
        return row


def undo_attendance(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    attendance: Attendance,
    version: int,
    submission_key: str = "",
) -> Attendance:
    """Undo what was last done with a record: a sign-in or an absence is voided, a sign-out is taken back.

    An absence that the sign-in had taken out stands again. Raises TooLateToUndo after ten minutes, StaleRow, and
    AttendanceOverlap when the child was signed in again since.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return earlier
        row = desk.fresh(attendance, version)
        desk.require_open(row.day)
        last = AuditEntry.objects.filter(provider=desk.provider, object_public_id=row.public_id).order_by("-pk").first()
        if last is None or last.verb not in UNDOABLE or last.at < now - UNDO_WITHIN or row.voided_at:
            raise TooLateToUndo(_("This can no longer be undone here. Correct the record instead."))
        if last.verb == "sign out":
            row.left_at, row.collected_by = None, ""
            row.note = last.changes.get("note", [row.note])[0] or ""
            row.signed_at_door = row.signed_at_door and "signed_at_door" not in last.changes
            check_against(row, records_around(desk.provider, [row.child], row.day))
            desk.save(row, verb="undo", summary=_("Undone: %(what)s") % {"what": last.summary})
        else:
            desk.void(row, reason=_("Undone within ten minutes"), verb="undo")
            _restore_absence(desk, row)
        desk.done(submission_key, row)
        return row


def _restore_absence(desk: Desk, stay: Attendance) -> None:
    absences = {
        row.public_id: row for row in Attendance.objects.filter(child=stay.child, day=stay.day, voided_at__isnull=False)
    }
    taken_out = AuditEntry.objects.filter(
        provider=desk.provider,
        verb=CAME_AFTER_ALL,
        object_public_id__in=absences,
        at__gte=stay.created_at - UNDO_WITHIN,
    )
    if stay.arrived_at and (entry := taken_out.order_by("-pk").first()):
        row = absences[entry.object_public_id]
        row.voided_at = None
        desk.save(row, verb="restore", summary=_("%(row)s: absent after all") % {"row": row})
