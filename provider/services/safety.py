"""Safety records: incidents, drills, home checks. A correction is a new row; the one it corrects stays as it was.

A closed year does not stop them: they are no figures of the books, and nothing of a closed year is overwritten.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_past, require_past_day, require_reason
from provider.models import Child, Drill, HomeCheck, Incident, Provider, Reminder, ReminderInterval, User

RecordT = TypeVar("RecordT", Incident, Drill, HomeCheck)


class AlreadyCorrected(DomainError):
    """Somebody corrected this record first: the newer one is the one to correct."""


@dataclass(frozen=True, slots=True)
class CheckedItem:
    """One thing looked at on a round through the home; what is not in order needs a note of what was done."""

    item: str
    ok: bool
    note: str = ""


def report_incident(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    kind: str,
    happened_at: datetime,
    what: str,
    written_by: str,
    place: str = "",
    first_aid: str = "",
    told_whom: str = "",
    told_how: str = "",
    told_at: datetime | None = None,
    signed_by: str = "",
    signed_at: datetime | None = None,
    follow_up: str = "",
    submission_key: str = "",
) -> Incident:
    """Report an incident or illness; who was told and who signed may be added later by `correct_incident`.

    Raises DomainError for a time that has not come, a parent told or a signature given before it happened, and for a
    telling or a signature of which only half is said.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Incident):
            return earlier
        row = Incident(
            provider=desk.provider,
            child=child,
            kind=kind,
            happened_at=happened_at,
            what=what,
            written_by=written_by,
            place=place,
            first_aid=first_aid,
            told_whom=told_whom,
            told_how=told_how,
            told_at=told_at,
            signed_by=signed_by,
            signed_at=signed_at,
            follow_up=follow_up,
        )
        _check_incident(row, now)
        return _add(desk, row, submission_key, "report", _("Reported an incident of %(child)s") % {"child": child})


def correct_incident(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    incident: Incident,
    reason: str,
    submission_key: str = "",
    **fields: Any,
) -> Incident:
    """Write the report anew with other `fields`. Raises AlreadyCorrected, and what `report_incident` raises."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Incident):
            return earlier
        row = _anew(desk, incident, reason, fields)
        _check_incident(row, now)
        summary = _("Corrected the report on %(child)s: %(reason)s") % {"child": row.child, "reason": reason}
        return _add(desk, row, submission_key, "correct", summary)


def record_drill(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    kind: str,
    held_at: datetime,
    adults: int,
    children: int,
    led_by: str,
    seconds: int | None = None,
    exit_used: str = "",
    note: str = "",
    submission_key: str = "",
) -> Drill:
    """An emergency drill that was held; `seconds` until everybody was out or under cover."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Drill):
            return earlier
        row = Drill(
            provider=desk.provider,
            kind=kind,
            held_at=held_at,
            adults=adults,
            children=children,
            led_by=led_by,
            seconds=seconds,
            exit_used=exit_used,
            note=note,
        )
        _check_drill(row, now)
        summary = _("Recorded a drill of %(day)s") % {"day": date_format(held_at.astimezone(desk.provider.zone))}
        return _add(desk, row, submission_key, "record", summary)


def correct_drill(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    drill: Drill,
    reason: str,
    submission_key: str = "",
    **fields: Any,
) -> Drill:
    """Raises AlreadyCorrected, and what `record_drill` raises."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Drill):
            return earlier
        row = _anew(desk, drill, reason, fields)
        _check_drill(row, now)
        return _add(desk, row, submission_key, "correct", _("Corrected a drill: %(reason)s") % {"reason": reason})


def record_home_check(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    done_on: date,
    done_by: str,
    items: Iterable[CheckedItem],
    submission_key: str = "",
) -> HomeCheck:
    """A round through the home. Its items are what the next round starts with.

    Raises DomainError for an empty round, a thing named twice, or one that is not in order without a note.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, HomeCheck):
            return earlier
        row = HomeCheck(provider=desk.provider, done_on=done_on, done_by=done_by, items=_items(items))
        _check_round(row, today)
        summary = _("Recorded a home check of %(day)s") % {"day": date_format(done_on)}
        return _add(desk, row, submission_key, "record", summary)


def correct_home_check(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    check: HomeCheck,
    reason: str,
    done_on: date,
    done_by: str,
    items: Iterable[CheckedItem],
    submission_key: str = "",
) -> HomeCheck:
    """Raises AlreadyCorrected, and what `record_home_check` raises."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, HomeCheck):
            return earlier
        row = _anew(desk, check, reason, {"done_on": done_on, "done_by": done_by, "items": _items(items)})
        _check_round(row, today)
        return _add(desk, row, submission_key, "correct", _("Corrected a home check: %(reason)s") % {"reason": reason})


def set_intervals(
    *, provider: Provider, actor: User | None, today: date, days: dict[str, int], submission_key: str = ""
) -> list[ReminderInterval]:
    """How often each kind of `Reminder` is due, in days."""
    with writing(provider, actor) as desk:
        rows = []
        for what, number in days.items():
            row = ReminderInterval.objects.filter(provider=desk.provider, what=what).first()
            row = row or ReminderInterval(provider=desk.provider, what=what)
            if row.pk is None or row.days != number:
                row.days = number
                summary = _("%(what)s every %(days)d days") % {"what": Reminder(what).label, "days": number}
                desk.save(row, verb="change", summary=summary)
            rows.append(row)
        return rows


def _add(desk: Desk, row: RecordT, submission_key: str, verb: str, summary: str) -> RecordT:
    desk.save(row, verb=verb, summary=summary)
    desk.done(submission_key, row)
    return row


def _anew(desk: Desk, old: RecordT, reason: str, fields: dict[str, Any]) -> RecordT:
    """A copy of `old` with other fields, that corrects it."""
    require_reason(reason)
    model = type(old)
    if model._default_manager.filter(corrects=old).exists():
        raise AlreadyCorrected(_("This record was corrected already. Open the newest one and correct that."))
    kept = {
        field.attname: getattr(old, field.attname)
        for field in model._meta.concrete_fields
        if field.name not in {"id", "public_id", "version", "created_at", "corrects", "correction_reason"}
    }
    row = model(**{**kept, **fields})
    row.corrects, row.correction_reason = old, reason.strip()
    return row


def _check_incident(row: Incident, now: datetime) -> None:
    for name in ("happened_at", "told_at", "signed_at"):
        require_past(getattr(row, name), now, field=name)
    if row.told_at is not None and row.told_at < row.happened_at:
        raise DomainError(_("Nobody can be told before it happened."), field="told_at")
    if row.signed_at is not None and row.signed_at < row.happened_at:
        raise DomainError(_("Nobody can sign before it happened."), field="signed_at")
    if bool(row.told_whom) != (row.told_at is not None):
        missing = "told_at" if row.told_whom else "told_whom"
        raise DomainError(_("Say both who was told and when."), field=missing)
    if row.told_whom and not row.told_how:
        raise DomainError(_("Say how: in person, by telephone, by message."), field="told_how")
    if bool(row.signed_by) != (row.signed_at is not None):
        missing = "signed_at" if row.signed_by else "signed_by"
        raise DomainError(_("Say both who signed and when."), field=missing)


def _check_drill(row: Drill, now: datetime) -> None:
    require_past(row.held_at, now, field="held_at")
    if row.adults < 1:
        raise DomainError(_("A drill is led by at least one adult."), field="adults")


def _items(items: Iterable[CheckedItem]) -> list[dict[str, Any]]:
    return [{"item": each.item.strip(), "ok": each.ok, "note": each.note.strip()} for each in items]


def _check_round(row: HomeCheck, today: date) -> None:
    require_past_day(row.done_on, today, field="done_on")
    if not row.items:
        raise DomainError(_("Write down at least one thing that you looked at."))
    names = [each["item"].casefold() for each in row.items]
    if len(names) != len(set(names)):
        raise DomainError(_("The same thing is on the list twice."))
    if untold := next((each["item"] for each in row.items if not each["ok"] and not each["note"]), None):
        raise DomainError(_("“%(item)s” was not in order: write down what was done about it.") % {"item": untold})
