"""Stays and absences of children. Every act takes `now`, the aware instant at the edge: nothing lies in the future."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import QuerySet
from django.utils.formats import date_format, time_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_past, require_past_day, require_reason
from provider.hours import to_minute
from provider.models import Attendance, AuditEntry, Child, Collector, Guardian, Provider, User

ONE_MINUTE = timedelta(minutes=1)
LONGEST_STAY = timedelta(hours=24)
UNDO_WITHIN = timedelta(minutes=10)
UNDOABLE = ("sign in", "sign out", "absent")
CAME_AFTER_ALL = "came after all"


class AttendanceOverlap(DomainError):
    """The child is already recorded as here during some of this time."""


class NotHere(DomainError):
    """The child is not signed in."""


class NotListed(DomainError):
    """Whoever takes the child home is neither a guardian nor listed for that day, and no note says why."""


class TooLateToUndo(DomainError):
    """The record is older than ten minutes, or something else was done with it since: correct it instead."""


class LongStay(DomainError):
    """A stay of more than 24 hours is asked about once; `confirmed` answers."""


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
        known = _known(desk.provider, [stay.child for stay in stays], day)
        for row in rows:
            _check_times(row, now, confirmed=True)
            _check_against(row, known)
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


def end_stay(
    desk: Desk,
    *,
    now: datetime,
    child: Child,
    at: datetime,
    collected_by: str = "",
    note: str = "",
    at_door: bool = False,
) -> Attendance:
    """The inner part of `sign_out_child`, also for the door."""
    row = open_stay(desk.provider, child)
    if row is None:
        raise NotHere(_("%(child)s is not signed in.") % {"child": child})
    desk.require_open(row.day)
    left_at = to_minute(at)
    # Signed in and out within one minute: the shortest stay that can be kept.
    row.left_at = left_at + ONE_MINUTE if left_at == row.arrived_at else left_at
    row.collected_by = collected_by
    row.note = "; ".join(filter(None, (row.note, note)))
    row.signed_at_door = row.signed_at_door or at_door
    _check_times(row, now, confirmed=False)
    return desk.save(
        row,
        verb="sign out",
        summary=_("Signed out %(child)s at %(time)s")
        % {"child": row.child, "time": _clock(row.left_at, desk.provider)},
    )


def still_here(provider: Provider) -> QuerySet[Attendance]:
    """The stays that have not ended, of whatever day; they have an index of their own, which an OR would miss."""
    return Attendance.objects.filter(
        provider=provider, arrived_at__isnull=False, left_at__isnull=True, voided_at__isnull=True
    ).select_related("child", "provider")


def open_stay(provider: Provider, child: Child) -> Attendance | None:
    """The stay that a child who is here has begun; stays do not overlap, so there is one at most."""
    return next(iter(still_here(provider).filter(child=child)), None)


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


def insert_stay(
    desk: Desk,
    *,
    today: date,
    now: datetime,
    child: Child,
    day: date,
    arrived_at: datetime,
    left_at: datetime | None = None,
    note: str = "",
    brought_by: str = "",
    collected_by: str = "",
    at_door: bool = False,
    confirmed: bool = False,
) -> Attendance:
    """The inner part of `record_stay`, also for the door."""
    desk.require_open(day, field="day")
    row = Attendance(
        provider=desk.provider,
        child=child,
        day=day,
        arrived_at=to_minute(arrived_at),
        left_at=left_at and to_minute(left_at),
        note=note,
        brought_by=brought_by.strip(),
        collected_by=collected_by.strip(),
        signed_at_door=at_door,
    )
    require_past_day(day, today, field="day")
    _check_times(row, now, confirmed=confirmed)
    known = _known(desk.provider, [child], day)
    for absent in [other for other in known if other.absence and other.day == day]:
        desk.void(absent, reason=_("Came after all"), verb=CAME_AFTER_ALL)
        known.remove(absent)
    _check_against(row, known)
    return desk.save(
        row,
        verb="sign in",
        summary=_("%(child)s arrived at %(time)s on %(day)s")
        % {"child": child, "time": _clock(row.arrived_at, desk.provider), "day": date_format(day)},
    )


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
        _check_against(row, _known(desk.provider, [child], day))
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
        _check_times(row, now, confirmed=confirmed)
        _check_against(row, [other for other in _known(desk.provider, [row.child], row.day) if other.pk != row.pk])
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
            _check_against(row, [other for other in _known(desk.provider, [row.child], row.day) if other.pk != row.pk])
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


def _check_times(row: Attendance, now: datetime, *, confirmed: bool) -> None:
    if row.arrived_at is None:
        if row.left_at is not None or not row.absence:
            raise DomainError(_("Give the time of arrival."), field="arrived_at")
        return
    zone = row.provider.zone
    for name in ("arrived_at", "left_at"):
        require_past(getattr(row, name), now, field=name)
    if row.arrived_at.astimezone(zone).date() != row.day:
        raise DomainError(_("The arrival must lie on the day itself."), field="arrived_at")
    if row.left_at is not None and row.left_at <= row.arrived_at:
        raise DomainError(_("The child cannot leave before it arrives."), field="left_at")
    if row.left_at is None and now - row.arrived_at > LONGEST_STAY:
        raise DomainError(_("That was more than a day ago. Say when the child left."), field="left_at")
    if row.left_at is not None and row.left_at - row.arrived_at > LONGEST_STAY and not confirmed:
        raise LongStay(
            _("That would be a stay of more than 24 hours. Correct the times, or confirm that it was so."),
            field="left_at",
        )


def _check_against(row: Attendance, known: Iterable[Attendance]) -> None:
    """Stays of a child do not overlap, and a day has stays or one absence."""
    for other in known:
        if other.child_id != row.child_id:
            continue
        if (row.absence or other.absence) and row.day == other.day:
            if other.absence:
                raise AttendanceOverlap(_("%(child)s is recorded as absent on that day.") % {"child": row.child})
            raise AttendanceOverlap(_("%(child)s was here on that day.") % {"child": row.child})
        if row.arrived_at is None or other.arrived_at is None:
            continue
        starts_inside = other.left_at is None or row.arrived_at < other.left_at
        ends_inside = row.left_at is None or row.left_at > other.arrived_at
        if starts_inside and ends_inside:
            raise AttendanceOverlap(
                _("%(child)s is already recorded as here from %(time)s on %(day)s.")
                % {
                    "child": row.child,
                    "time": _clock(other.arrived_at, row.provider),
                    "day": date_format(other.day),
                },
                field="arrived_at",
            )


def _known(provider: Provider, children: list[Child], day: date) -> list[Attendance]:
    """Records that could meet one of `day`: those of the days around it, and of whoever is still here."""
    around = (day - timedelta(days=2), day + timedelta(days=2))
    near = Attendance.objects.filter(child__in=children, day__range=around, voided_at__isnull=True)
    since_before = still_here(provider).filter(child__in=children).exclude(day__range=around)
    return [*near.select_related("child", "provider"), *since_before]


def _clock(at: datetime | None, provider: Provider) -> str:
    return time_format(localtime(at, provider.zone))
