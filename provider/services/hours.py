"""Work while no child is present: preparing, cleaning, planning, records, shopping."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.hours import to_minute
from provider.models import Provider, User, WorkEntry
from provider.selectors.hours import is_at_home

LONGEST_WORK = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class WorkInput:
    """One stretch of work; aware instants, `kind` one of `WorkKind`, `person` empty for the owner."""

    kind: str
    started_at: datetime
    ended_at: datetime
    at_home: bool = True
    person: str = ""
    note: str = ""


def log_work(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    kind: str,
    started_at: datetime,
    ended_at: datetime,
    at_home: bool = True,
    person: str = "",
    note: str = "",
    submission_key: str = "",
) -> WorkEntry:
    """Log work that is over. Overlapping entries are kept as said and merged when hours are counted.

    Raises PeriodLocked, and DomainError for a time in the future, an end before the start, more than 24 hours, or
    the same stretch of the same person and kind entered twice.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WorkEntry):
            return earlier
        row = enter_work(desk, WorkInput(kind, started_at, ended_at, at_home, person, note), now=now)
        desk.done(submission_key, row)
        return row


def enter_work(desk: Desk, given: WorkInput, *, now: datetime) -> WorkEntry:
    """Log work at the desk of another service, with the checks of `log_work`."""
    row = _entry(desk, given)
    _check(desk, row, now)
    return desk.save(row, verb="log", summary=_("Logged %(row)s") % {"row": row})


def log_work_many(
    *, provider: Provider, actor: User | None, today: date, now: datetime, entries: Iterable[WorkInput]
) -> list[WorkEntry]:
    """Log many entries in one transaction and one statement, with the checks of `log_work`."""
    with writing(provider, actor) as desk:
        rows = [_entry(desk, given) for given in entries]
        for row in rows:
            _check_times(desk, row, now)
        desk.create_many(rows)
        if rows:
            desk.audit("log", rows[0], _("Logged %(count)d entries of work") % {"count": len(rows)})
        return rows


def change_work(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    work: WorkEntry,
    version: int,
    kind: str,
    started_at: datetime,
    ended_at: datetime,
    at_home: bool,
    person: str = "",
    note: str = "",
    submission_key: str = "",
) -> WorkEntry:
    """Correct an entry. Raises StaleRow, and what `log_work` raises."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WorkEntry):
            return earlier
        row = desk.fresh(work, version)
        if row.voided_at:
            raise DomainError(_("This record was taken out of the books."))
        desk.require_open(_day(row.started_at, desk), _day(row.ended_at, desk))
        row.kind, row.at_home, row.person, row.note = kind, is_at_home(kind, at_home), person, note
        row.started_at, row.ended_at = to_minute(started_at), to_minute(ended_at)
        _check(desk, row, now)
        desk.save(row, verb="change", summary=_("Changed %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def void_work(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    work: WorkEntry,
    reason: str,
    submission_key: str = "",
) -> WorkEntry:
    """Take an entry out of the books; the history keeps it with the reason."""
    with writing(provider, actor) as desk:
        row = WorkEntry.objects.get(pk=work.pk, provider=desk.provider)
        if row.voided_at:
            return row
        desk.require_open(_day(row.started_at, desk), _day(row.ended_at, desk))
        return desk.void(row, reason=reason)


def _entry(desk: Desk, given: WorkInput) -> WorkEntry:
    return WorkEntry(
        provider=desk.provider,
        kind=given.kind,
        at_home=is_at_home(given.kind, given.at_home),
        started_at=to_minute(given.started_at),
        ended_at=to_minute(given.ended_at),
        person=given.person,
        note=given.note,
    )


def _check(desk: Desk, row: WorkEntry, now: datetime) -> None:
    _check_times(desk, row, now)
    same = WorkEntry.objects.filter(
        ~Q(pk=row.pk),
        provider=desk.provider,
        voided_at__isnull=True,
        kind=row.kind,
        person=row.person,
        started_at=row.started_at,
        ended_at=row.ended_at,
    )
    if same.exists():
        raise DomainError(
            _("The same work is already logged on %(day)s.") % {"day": date_format(_day(row.started_at, desk))},
            field="begins",
        )


def _check_times(desk: Desk, row: WorkEntry, now: datetime) -> None:
    desk.require_open(_day(row.started_at, desk), _day(row.ended_at, desk), field="day")
    if row.ended_at <= row.started_at:
        raise DomainError(_("The work must end after it begins."), field="ends")
    if row.ended_at > now:
        raise DomainError(_("That time has not come yet."), field="ends")
    if row.ended_at - row.started_at > LONGEST_WORK:
        raise DomainError(_("One entry can hold at most 24 hours."), field="ends")


def _day(at: datetime, desk: Desk) -> date:
    return localtime(at, desk.provider.zone).date()
