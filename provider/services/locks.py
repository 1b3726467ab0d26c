"""Closing a period, so that nothing dated in it changes, and opening it again."""

from datetime import date

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_reason
from provider.models import PeriodLock, Provider, User


def lock_period(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    start: date,
    end: date,
    reason: str,
    submission_key: str = "",
) -> PeriodLock:
    """Close [start, end), all of it past. The reason is shown to whoever is refused."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PeriodLock):
            return earlier
        lock = insert_lock(desk, today=today, start=start, end=end, reason=reason)
        desk.done(submission_key, lock)
        return lock


def insert_lock(desk: Desk, *, today: date, start: date, end: date, reason: str) -> PeriodLock:
    """The inner part of `lock_period`, for a service that closes a year together with its figures."""
    if end > today:
        raise DomainError(_("Only a period that is over can be closed."), field="end")
    same = PeriodLock.objects.filter(provider=desk.provider, lifted_at__isnull=True, start__lte=start, end__gte=end)
    if same.exists():
        raise DomainError(_("This period is closed already."))
    return desk.save(
        PeriodLock(provider=desk.provider, start=start, end=end, reason=reason),
        verb="lock",
        summary=_("Closed the books from %(start)s before %(end)s: %(reason)s")
        % {"start": date_format(start), "end": date_format(end), "reason": reason},
    )


def lift_lock(
    *, provider: Provider, actor: User | None, today: date, lock: PeriodLock, reason: str, submission_key: str = ""
) -> PeriodLock:
    """Open a closed period again; the reason is kept. Lifting a lifted lock changes nothing."""
    with writing(provider, actor) as desk:
        lock = PeriodLock.objects.get(pk=lock.pk, provider=desk.provider)
        if lock.lifted_at:
            return lock
        require_reason(reason)
        lock.lifted_at = timezone.now()
        lock.lift_reason = reason
        return desk.save(
            lock, verb="lift", summary=_("Reopened %(lock)s: %(reason)s") % {"lock": lock, "reason": reason}
        )
