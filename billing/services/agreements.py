"""What was agreed for a place, and who pays which share of it."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from billing.models import Agreement, InvoiceLine, Payer
from billing.selectors.month import WHOLE
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Enrolment, Guardian, Provider, User
from provider.periods import DateSpan

Shares = Mapping[Guardian, Decimal]


class AgreementsOverlap(DomainError):
    """Two rates would hold on the same day."""


class SharesNotWhole(DomainError):
    """The payers' shares do not add up to the whole."""


class AlreadyInvoiced(DomainError):
    """Invoices that stand were made from these terms."""


def agree(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    enrolment: Enrolment,
    rate: Decimal,
    period: str,
    start: date,
    shares: Shares,
    end: date | None = None,
    note: str = "",
    submission_key: str = "",
) -> Agreement:
    """Agree a rate from `start` on; the agreement that holds on that day ends there.

    `shares` are fractions of one by guardian. Raises AgreementsOverlap when a later agreement begins before `end`,
    SharesNotWhole, and DomainError for a place that is never billed or a start outside the enrolment.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Agreement):
            return earlier
        _check_place(enrolment, start, end)
        _check_shares(shares, rate)
        for former in Agreement.objects.filter(enrolment=enrolment, start__lt=start).order_by("start"):
            if former.end is None or former.end > start:
                former.end = start
                desk.save(former, verb="change", summary=_("Ended %(agreement)s") % {"agreement": former})
        agreement = Agreement(
            provider=desk.provider, enrolment=enrolment, rate=rate, period=period, start=start, end=end, note=note
        )
        _check_no_overlap(agreement)
        desk.save(agreement, verb="agree", summary=_("Agreed %(agreement)s") % {"agreement": agreement})
        _set_payers(desk, agreement, shares)
        desk.done(submission_key, agreement)
        return agreement


def change_agreement(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    agreement: Agreement,
    version: int,
    rate: Decimal,
    period: str,
    start: date,
    shares: Shares,
    end: date | None = None,
    note: str = "",
) -> Agreement:
    """Correct an agreement. Rate, period and start stay once invoices were issued from it (AlreadyInvoiced)."""
    with writing(provider, actor) as desk:
        row = desk.fresh(agreement, version)
        _check_place(row.enrolment, start, end)
        _check_shares(shares, rate)
        if (rate, period, start) != (row.rate, row.period, row.start):
            _check_not_invoiced(row)
        row.rate, row.period, row.start, row.end, row.note = rate, period, start, end, note
        _check_no_overlap(row)
        desk.save(row, verb="change", summary=_("Changed %(agreement)s") % {"agreement": row})
        _set_payers(desk, row, shares)
        return row


def _check_place(enrolment: Enrolment, start: date, end: date | None) -> None:
    if enrolment.is_free_place or enrolment.child.is_own_child:
        raise DomainError(_("This place is never billed. Change the enrolment first if that is no longer so."))
    if end is not None and end <= start:
        raise DomainError(_("The end must lie after the start."), field="end")
    if start not in DateSpan(enrolment.start, enrolment.end):
        raise DomainError(
            _("The rate must begin while %(child)s is enrolled, %(day)s at the earliest.")
            % {"child": enrolment.child, "day": date_format(enrolment.start)},
            field="start",
        )


def _check_shares(shares: Shares, rate: Decimal) -> None:
    if not shares and not rate:
        return
    if any(share <= 0 for share in shares.values()) or sum(shares.values()) != WHOLE:
        raise SharesNotWhole(
            _("The shares add up to %(sum)s %%. They must be 100 %% together.")
            % {"sum": f"{sum(shares.values(), Decimal(0)) * 100:.2f}"},
            field="shares",
        )


def _check_no_overlap(agreement: Agreement) -> None:
    span = DateSpan(agreement.start, agreement.end)
    for other in Agreement.objects.filter(enrolment=agreement.enrolment).exclude(pk=agreement.pk).order_by("start"):
        if span.overlaps(DateSpan(other.start, other.end)):
            raise AgreementsOverlap(
                _("Another agreement holds from %(day)s. Two rates cannot hold on the same day.")
                % {"day": date_format(other.start)},
                field="start" if other.start <= agreement.start else "end",
            )


def _check_not_invoiced(agreement: Agreement) -> None:
    line = InvoiceLine.objects.filter(agreement=agreement, live=True).select_related("invoice").first()
    if line is not None:
        raise AlreadyInvoiced(
            _(
                "Invoice %(number)s was issued from these terms. Agree a new rate from a date instead, "
                "or write a credit note for the invoice first."
            )
            % {"number": line.invoice},
            field="rate",
        )


def _set_payers(desk: Desk, agreement: Agreement, shares: Shares) -> None:
    """Make the payers those of `shares`; the trail keeps who paid which share before."""
    now = {payer.guardian_id: payer for payer in Payer.objects.filter(agreement=agreement)}
    before = {str(payer): str(payer.share) for payer in now.values()}
    after = {str(guardian): str(share) for guardian, share in shares.items()}
    for guardian, share in shares.items():
        payer = now.pop(guardian.pk, None) or Payer(provider=desk.provider, agreement=agreement, guardian=guardian)
        if payer.share != share or payer.pk is None:
            payer.share = share
            desk.save(payer)
    Payer.objects.filter(pk__in=[payer.pk for payer in now.values()]).delete()
    if before and before != after:
        desk.audit(
            "change",
            agreement,
            _("Changed who pays %(agreement)s") % {"agreement": agreement},
            {"payers": [before, after]},
        )
