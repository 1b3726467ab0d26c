"""Taking part in the food programme."""

from datetime import date

from django.utils.translation import gettext as _

from billing.models import FoodProgramme
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Country, Provider, User
from provider.periods import DateSpan


def join_food_programme(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    tier: int,
    start: date,
    end: date | None = None,
    claims_own_children: bool = False,
    submission_key: str = "",
) -> FoodProgramme:
    """Take part in [start, end) with a tier. What was open before ends where this begins.

    Raises PeriodLocked, and DomainError outside the United States or when the days overlap another time.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, FoodProgramme):
            return earlier
        if provider.country != Country.US:
            raise DomainError(_("The food programme is one of the United States."))
        desk.require_open(start, field="start")
        for before in FoodProgramme.objects.filter(provider=desk.provider, end__isnull=True, start__lt=start):
            before.end = start
            desk.save(before, verb="end", summary=_("Ended %(row)s") % {"row": before})
        row = FoodProgramme(
            provider=desk.provider, tier=tier, start=start, end=end, claims_own_children=claims_own_children
        )
        _check_overlap(desk, row)
        desk.save(row, verb="join", summary=_("Joined the food programme: %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def change_food_programme(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    programme: FoodProgramme,
    version: int,
    tier: int,
    start: date,
    end: date | None = None,
    claims_own_children: bool = False,
    submission_key: str = "",
) -> FoodProgramme:
    """Correct a time of taking part, or end it. Raises StaleRow, and what `join_food_programme` raises."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, FoodProgramme):
            return earlier
        row = desk.fresh(programme, version)
        ends_only = (row.tier, row.start, row.claims_own_children) == (tier, start, claims_own_children)
        if not ends_only:
            desk.require_open_span(min(row.start, start), row.end, field="start")
        desk.require_open(row.end, end, field="end")
        row.tier, row.start, row.end, row.claims_own_children = tier, start, end, claims_own_children
        _check_overlap(desk, row)
        desk.save(row, verb="change", summary=_("Changed %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def _check_overlap(desk: Desk, row: FoodProgramme) -> None:
    if row.end is not None and row.end <= row.start:
        raise DomainError(_("It must end after it starts."), field="end")
    span = DateSpan(row.start, row.end)
    for other in FoodProgramme.objects.filter(provider=desk.provider).exclude(pk=row.pk):
        if span.overlaps(DateSpan(other.start, other.end)):
            raise DomainError(_("You took part in some of these days already."), field="start")
