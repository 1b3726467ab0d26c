"""Closing on public holidays, one or a whole year of them at once."""

from collections.abc import Collection
from datetime import date

from django.utils.translation import gettext as _

from provider.desk import writing
from provider.errors import DomainError
from provider.models import Closure, ClosureKind, Provider, Submission, User
from provider.periods import ONE_DAY
from provider.selectors.calendar import holidays_of
from provider.services.home import insert_closure


def close_on_holidays(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    year: int,
    days: Collection[date],
    paid: bool,
    language: str = "",
    submission_key: str = "",
) -> list[Closure]:
    """Close on the given holidays of a year where the provider lives; days that are closed already stay as they are.

    Raises DomainError for no day, for a day that is no holiday there, and PeriodLocked. All or nothing.
    """
    with writing(provider, actor) as desk:
        if submission_key and Submission.objects.filter(provider=desk.provider, key=submission_key).exists():
            return []
        names: dict[date, list[str]] = {}
        for holiday in holidays_of(desk.provider, year, language) or ():
            names.setdefault(holiday.day, []).append(holiday.name)
        if not days:
            raise DomainError(_("Tick at least one holiday."), field="days")
        if unknown := sorted(set(days) - names.keys()):
            raise DomainError(_("%(day)s is no public holiday here.") % {"day": unknown[0]}, field="days")
        closed = {
            start + ONE_DAY * number
            for start, end in Closure.objects.filter(
                provider=desk.provider, voided_at__isnull=True, start__lte=max(days), end__gt=min(days)
            ).values_list("start", "end")
            for number in range((end - start).days)
        }
        made = [
            insert_closure(
                desk,
                start=day,
                end=day + ONE_DAY,
                kind=ClosureKind.HOLIDAY,
                paid=paid,
                reason=", ".join(names[day])[:120],
            )
            for day in sorted(set(days) - closed)
        ]
        if made:
            desk.done(submission_key, made[0])
        return made
