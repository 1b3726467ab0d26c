"""The day in between: taps about the smallest, and short notes about a child's day."""

from datetime import date, datetime, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import writing
from provider.errors import DomainError
from provider.guards import require_past, require_past_day
from provider.models import CareMoment, Child, DayNote, MomentKind, Provider, User

# A wrong tap is taken back without a word for this long; later the reason is asked for.
UNDO_WITHIN = timedelta(minutes=30)
MOST_MILLILITRES = 1_000


def record_moment(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    child: Child,
    kind: str,
    at: datetime | None = None,
    amount: int | None = None,
    note: str = "",
    submission_key: str = "",
) -> CareMoment:
    """One tap about a child, `at` (default now). `amount` in millilitres belongs to a bottle and to nothing else."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CareMoment):
            return earlier
        at = at or now
        require_past(at, now, field="at")
        if kind != MomentKind.BOTTLE and amount is not None:
            raise DomainError(_("Only a bottle has an amount."), field="amount")
        if amount is not None and not 0 < amount <= MOST_MILLILITRES:
            raise DomainError(_("A bottle holds from 1 to %(most)d ml.") % {"most": MOST_MILLILITRES}, field="amount")
        row = CareMoment(provider=desk.provider, child=child, at=at, kind=kind, amount=amount, note=note)
        desk.save(row, verb="record", summary=_("Recorded a moment of %(child)s") % {"child": child})
        desk.done(submission_key, row)
        return row


def undo_moment(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    moment: CareMoment,
    reason: str = "",
    submission_key: str = "",
) -> CareMoment:
    """Take a tap back. More than half an hour after it was made a reason is needed (field `reason`)."""
    with writing(provider, actor) as desk:
        row = CareMoment.objects.get(pk=moment.pk, provider=desk.provider)
        if row.voided_at:
            return row
        if now - row.created_at <= UNDO_WITHIN:
            reason = reason or _("A wrong tap")
        return desk.void(row, reason=reason, verb="undo")


def add_day_note(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    day: date,
    text: str,
    for_family: bool,
    submission_key: str = "",
) -> DayNote:
    """A short note about a child's day; its family sees it only when `for_family`."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, DayNote):
            return earlier
        require_past_day(day, today, field="day")
        row = DayNote(provider=desk.provider, child=child, day=day, text=text, for_family=for_family)
        summary = _("Wrote a note about %(child)s on %(day)s") % {"child": child, "day": date_format(day)}
        desk.save(row, verb="add", summary=summary)
        desk.done(submission_key, row)
        return row


def change_day_note(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    note: DayNote,
    version: int,
    day: date,
    text: str,
    for_family: bool,
    submission_key: str = "",
) -> DayNote:
    """Raises StaleRow. The trail says that it changed; the words themselves stay out of it."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, DayNote):
            return earlier
        require_past_day(day, today, field="day")
        row = desk.fresh(note, version)
        if row.voided_at:
            raise DomainError(_("This note was taken out."))
        row.day, row.text, row.for_family = day, text, for_family
        desk.save(row)
        desk.audit("change", row, _("Changed a note about %(child)s") % {"child": row.child})
        desk.done(submission_key, row)
        return row


def void_day_note(
    *, provider: Provider, actor: User | None, today: date, note: DayNote, reason: str, submission_key: str = ""
) -> DayNote:
    """Take a note out; the history keeps it with the reason."""
    with writing(provider, actor) as desk:
        row = DayNote.objects.get(pk=note.pk, provider=desk.provider)
        return row if row.voided_at else desk.void(row, reason=reason)
