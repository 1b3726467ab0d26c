"""Issuing a month's invoices, and taking one back by a credit note. What was issued is never edited or deleted."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from billing.models import Allocation, Invoice, InvoiceLine, Series
from billing.selectors.month import DraftInvoice, MonthPreview, Problem, month_preview
from billing.services.numbers import take_numbers
from billing.services.payments import settle
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_reason
from provider.models import Provider, User
from provider.periods import ONE_DAY, DateSpan

MONTHS_AHEAD = 3


class PreviewChanged(DomainError):
    """What would be issued is no longer what was looked at."""


class ProblemsLeft(DomainError):
    """Some children cannot be invoiced, and nobody said to issue the rest."""


class TooEarly(DomainError):
    """The month lies too far ahead."""


class AlreadyCredited(DomainError):
    """A credit note was written before."""


@dataclass(frozen=True, slots=True)
class Issued:
    """The invoices of one act, in number order (none when nothing was left to issue), and the problems that remain."""

    invoices: tuple[Invoice, ...]
    problems: tuple[Problem, ...]

    @property
    def total(self) -> Decimal:
        return sum((invoice.total for invoice in self.invoices), Decimal("0.00"))


def issue_month(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    year: int,
    month: int,
    expected_fingerprint: str = "",
    issue_the_rest: bool = False,
) -> Issued:
    """Issue every invoice of the month that is not issued yet, all or none, dated `today`.

    Computed anew under the provider's lock, so that a second call, even at the same moment, finds nothing left and
    changes nothing. Raises PreviewChanged when `expected_fingerprint` (of the preview that was looked at) no longer
    fits, ProblemsLeft unless `issue_the_rest`, TooEarly, and PeriodLocked when `today` lies in a closed period.
    """
    with writing(provider, actor) as desk:
        preview = month_preview(desk.provider, year, month)
        if not preview.drafts:
            return Issued((), preview.problems)
        _check_may_issue(desk, preview, today, expected_fingerprint, issue_the_rest)
        numbers = take_numbers(desk, Series.INVOICE, today.year, len(preview.drafts))
        invoices = tuple(
            _issue(desk, draft, preview.span, today, number)
            for draft, number in zip(preview.drafts, numbers, strict=True)
        )
        # Credit on account pays what was just issued.
        settle(desk, {invoice.household for invoice in invoices})
        return Issued(invoices, preview.problems)


def credit_note(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    invoice: Invoice,
    reason: str,
    submission_key: str = "",
) -> Invoice:
    """Take an invoice back whole: a negative twin in its own series, dated `today`, that says why.

    Its lines fall, so that the month can be issued anew; what was paid on it becomes credit on account.
    Raises AlreadyCredited, DomainError without a reason or for a credit note itself, PeriodLocked.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Invoice):
            return earlier
        original = Invoice.objects.get(provider=desk.provider, pk=invoice.pk)
        _check_may_credit(original, reason)
        desk.require_open(today)
        (number,) = take_numbers(desk, Series.CREDIT, today.year, 1)
        note = Invoice(
            **{name: getattr(original, name) for name in _COPIED},
            provider=desk.provider,
            series=Series.CREDIT,
            year=today.year,
            number=number,
            issued_on=today,
            due_on=today,
            total=-original.total,
            corrects=original,
            reason=reason.strip(),
        )
        desk.save(
            note,
            verb="credit",
            summary=_("Took back invoice %(number)s: %(reason)s") % {"number": original, "reason": reason.strip()},
        )
        lines = list(InvoiceLine.objects.filter(invoice=original).order_by("position"))
        desk.create_many([_mirrored(line, note) for line in lines])
        InvoiceLine.objects.filter(invoice=original).update(live=False)
        Allocation.objects.filter(invoice=original).delete()
        desk.done(submission_key, note)
        return note


_COPIED = (
    "household",
    "guardian",
    "covers_start",
    "covers_end",
    "issuer_name",
    "issuer_address",
    "issuer_contact",
    "payer_name",
    "payer_address",
    "language",
)


def _check_may_issue(desk: Desk, preview: MonthPreview, today: date, expected: str, issue_the_rest: bool) -> None:
    if expected and expected != preview.fingerprint:
        raise PreviewChanged(
            _("Something changed since you looked. Nothing was issued: look at the month as it is now.")
        )
    if preview.problems and not issue_the_rest:
        raise ProblemsLeft(
            _("Nothing was issued. Solve the problems first, or tick that the rest is to be issued."),
            field="issue_the_rest",
        )
    if preview.span.start > _months_after(today, MONTHS_AHEAD):
        raise TooEarly(
            _("%(month)s lies more than %(count)d months ahead.")
            % {"month": date_format(preview.span.start, "YEAR_MONTH_FORMAT"), "count": MONTHS_AHEAD}
        )
    desk.require_open(today)


def _months_after(day: date, count: int) -> date:
    months = day.year * 12 + day.month - 1 + count
    return date(months // 12, months % 12 + 1, 1)


def _issue(desk: Desk, draft: DraftInvoice, span: DateSpan, today: date, number: int) -> Invoice:
    provider = desk.provider
    invoice = Invoice(
        provider=provider,
        year=today.year,
        number=number,
        household=draft.household,
        guardian=draft.guardian,
        issued_on=today,
        due_on=today + timedelta(days=provider.invoice_days_due),
        covers_start=span.start,
        covers_end=span.last_day + ONE_DAY,
        total=draft.total,
        issuer_name=provider.name,
        issuer_address=provider.address,
        issuer_contact=", ".join(filter(None, (provider.phone, provider.email))),
        payer_name=draft.guardian.name,
        payer_address=draft.household.address,
        language=draft.household.language,
        note=provider.invoice_note,
    )
    desk.save(
        invoice,
        verb="issue",
        summary=_("Issued invoice %(number)s to %(payer)s") % {"number": invoice, "payer": invoice.payer_name},
    )
    desk.create_many(
        [
            InvoiceLine(
                provider=provider,
                invoice=invoice,
                position=position,
                child=line.child,
                agreement=line.agreement,
                guardian=line.guardian,
                covers_start=line.span.start,
                covers_end=line.span.last_day + ONE_DAY,
                description=line.description,
                arithmetic=line.arithmetic,
                amount=line.amount,
            )
            for position, line in enumerate(draft.lines, 1)
        ]
    )
    return invoice


def _check_may_credit(invoice: Invoice, reason: str) -> None:
    if invoice.series == Series.CREDIT:
        raise DomainError(_("A credit note cannot be taken back. Issue the month anew instead."))
    if Invoice.objects.filter(corrects=invoice).exists():
        raise AlreadyCredited(_("Invoice %(number)s was taken back before.") % {"number": invoice})
    require_reason(reason)


def _mirrored(line: InvoiceLine, note: Invoice) -> InvoiceLine:
    """The line taken back. It is never live: only a charge can stand."""
    return InvoiceLine(
        provider=line.provider,
        invoice=note,
        position=line.position,
        child=line.child,
        agreement=line.agreement,
        guardian=line.guardian,
        covers_start=line.covers_start,
        covers_end=line.covers_end,
        description=line.description,
        arithmetic=line.arithmetic,
        amount=-line.amount,
        live=False,
    )
