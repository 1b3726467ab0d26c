"""The timer of one user for work while no child is present. It is a row, so that a locked phone loses nothing."""

from datetime import date, datetime, timedelta

from django.utils.formats import time_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider import doors
from provider.desk import writing
from provider.errors import DomainError
from provider.hours import to_minute
from provider.models import Provider, User, WorkEntry, WorkTimer
from provider.selectors.hours import is_at_home, running_timer
from provider.services.hours import WorkInput, enter_work

FORGOTTEN = timedelta(hours=16)
ONE_MINUTE = timedelta(minutes=1)


class NoTimer(DomainError):
    """No timer of this user is running."""


class ForgottenTimer(DomainError):
    """The timer has run for more than 16 hours: the end must be said."""


def start_timer(
    *,
    provider: Provider,
    actor: User,
    today: date,
    now: datetime,
    kind: str,
    away: bool = False,
    run: str = "",
    centre: str = "",
    submission_key: str = "",
) -> WorkTimer:
    """Start the actor's timer. `run` and `centre` are the public ids of the theme run and the learning centre it is
    for, `away` that it is not in the home.

    A second tap for the same kind changes nothing. Raises DomainError while another kind runs, or the same for another
    centre, and when the timer of this submission has ended already.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WorkTimer):
            return earlier
        if running := running_timer(desk.provider, actor):
            if running.kind == kind and running.centre_public_id == centre:
                return running
            raise DomainError(
                _("A timer runs already: %(kind)s since %(time)s. Stop it first.")
                % {
                    "kind": running.get_kind_display(),
                    "time": time_format(localtime(running.started_at, provider.zone)),
                }
            )
        row = WorkTimer(
            provider=desk.provider,
            user=actor,
            kind=kind,
            at_home=is_at_home(kind, not away),
            started_at=to_minute(now),
            run_public_id=run,
            centre_public_id=centre,
        )
        desk.save(row, verb="start", summary=_("Started the timer: %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def stop_timer(
    *,
    provider: Provider,
    actor: User,
    today: date,
    now: datetime,
    ended_at: datetime | None = None,
    person: str = "",
    note: str = "",
    submission_key: str = "",
) -> WorkEntry:
    """Log the timer's work, until `now` or the `ended_at` that was said, and end the timer.

    Raises NoTimer, ForgottenTimer (field `ends`), and what `log_work` raises.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WorkEntry):
            return earlier
        timer = running_timer(desk.provider, actor)
        if timer is None:
            raise NoTimer(_("No timer is running."))
        if ended_at is None and now - timer.started_at > FORGOTTEN:
            raise ForgottenTimer(
                _("This timer has run for %(hours)d hours. When did the work really end?")
                % {"hours": (now - timer.started_at) // timedelta(hours=1)},
                field="ends",
            )
        if ended_at is None and now - timer.started_at < ONE_MINUTE:
            raise DomainError(_("The timer has run for less than a minute. Let it run, or discard it."))
        given = WorkInput(timer.kind, timer.started_at, ended_at or now, timer.at_home, person, note)
        row = enter_work(desk, given, now=now)
        if timer.run_public_id:
            for keep in doors.work_recorded:
                keep(desk, row, timer.run_public_id, timer.centre_public_id)
        timer.delete()
        desk.done(submission_key, row)
        return row


def discard_timer(*, provider: Provider, actor: User, today: date, submission_key: str = "") -> None:
    """End the timer without logging anything; the history keeps that it ran. Nothing happens when none is running."""
    with writing(provider, actor) as desk:
        if timer := running_timer(desk.provider, actor):
            since = time_format(localtime(timer.started_at, provider.zone))
            desk.audit(
                "discard", timer, _("Discarded the timer: %(row)s since %(time)s") % {"row": timer, "time": since}
            )
            timer.delete()
