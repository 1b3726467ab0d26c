"""What the owner decides about a tax year: her choices, closing it. It is opened again by `provider.services.locks`."""

from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from billing.models import Rounding, TaxYear
from billing.selectors.year import default_basis
from billing.services.lots import settle_lots_of_year
from provider.desk import writing
from provider.models import PeriodLock, Provider, User
from provider.periods import DateSpan
from provider.services.locks import insert_lock


def choose_for_year(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    year: int,
    basis: str,
    rounding: str = Rounding.PUBLISHED,
    provisional_home_share: Decimal | None = None,
    counts_preparation: bool | None = None,
    version: int = 0,
    submission_key: str = "",
) -> TaxYear:
    """State the basis, the rounding and the provisional home share (a fraction of one, four places) of a year.

    `counts_preparation`: hours of work while no child is here enter the home share; None as usual in the country.
    `version` is that of the choices the form was opened with, 0 for none. Raises StaleRow, PeriodLocked, Refused.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, TaxYear):
            return earlier
        span = DateSpan.year(year)
        desk.require_open(span.start, span.last_day)
        row = TaxYear.objects.filter(provider=desk.provider, year=year).first()
        row = desk.fresh(row, version) if row else TaxYear(provider=desk.provider, year=year)
        row.basis = basis
        row.rounding = rounding
        row.provisional_home_share = provisional_home_share
        row.counts_preparation = counts_preparation
        desk.save(row, verb="choose", summary=_("Stated the choices for %(year)s") % {"year": year})
        settle_lots_of_year(desk, year=year, today=today)
        desk.done(submission_key, row)
        return row


def close_year(
    *, provider: Provider, actor: User | None, today: date, year: int, reason: str, submission_key: str = ""
) -> PeriodLock:
    """Close a year that is over. Its choices are written down with it, also when they are the usual ones.

    Raises DomainError when it is not over or closed already, Refused without a reason.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PeriodLock):
            return earlier
        if not TaxYear.objects.filter(provider=desk.provider, year=year).exists():
            desk.save(TaxYear(provider=desk.provider, year=year, basis=default_basis(provider)))
        settle_lots_of_year(desk, year=year, today=today)
        span = DateSpan.year(year)
        lock = insert_lock(desk, today=today, start=span.start, end=date(year + 1, 1, 1), reason=reason)
        desk.done(submission_key, lock)
        return lock
