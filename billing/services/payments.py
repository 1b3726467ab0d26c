"""Money received from families, and which invoices it settles.

Money settles what is due first; with a guardian named, that guardian's invoices come before the family's others. What
is left over is credit on account and settles the next invoices as they are issued.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from billing.models import Allocation, Invoice, Payment
from billing.selectors.invoices import open_amount, standing_invoices, with_allocated
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Guardian, Household, Provider, User
from provider.money import ZERO


class AlreadySettled(DomainError):
    """Nothing is left to pay on the chosen invoice."""


def record_payment(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    household: Household,
    on: date,
    amount: Decimal,
    method: str,
    guardian: Guardian | None = None,
    invoice: Invoice | None = None,
    note: str = "",
    submission_key: str = "",
) -> Payment:
    """Record money received on a day not after `today`; `invoice` is settled first, then the oldest due.

    Raises DomainError for a date in the future or people who do not belong together, AlreadySettled, PeriodLocked.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Payment):
            return earlier
        if on > today:
            raise DomainError(_("Money cannot have come in after today."), field="on")
        if amount <= 0:
            raise DomainError(_("The amount must be more than zero."), field="amount")
        if guardian is not None and guardian.household_id != household.pk:
            raise DomainError(_("This person belongs to another family."), field="guardian")
        desk.require_open(on, field="on")
        due = _open_on(invoice, household) if invoice is not None else ZERO
        payment = Payment(
            provider=desk.provider,
            household=household,
            guardian=guardian,
            on=on,
            amount=amount,
            method=method,
            note=note,
        )
        desk.save(
            payment,
            verb="record",
            summary=_("Recorded %(amount)s from %(family)s") % {"amount": amount, "family": household},
        )
        if invoice is not None:
            desk.save(
                Allocation(provider=desk.provider, payment=payment, invoice=invoice, amount=min(due, payment.amount))
            )
        settle(desk, [household])
        desk.done(submission_key, payment)
        return payment


def void_payment(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    payment: Payment,
    version: int,
    reason: str,
    submission_key: str = "",
) -> Payment:
    """Take a payment back out of the books; what it had settled is open again."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Payment):
            return earlier
        row = desk.fresh(payment, version)
        if row.voided_at is not None:
            raise DomainError(_("This payment was voided before."))
        desk.require_open(row.on)
        Allocation.objects.filter(payment=row).delete()
        desk.void(row, reason=reason)
        desk.done(submission_key, row)
        return row


def settle(desk: Desk, households: Iterable[Household]) -> None:
    """Spread what is left of the households' payments, oldest first, over their open invoices, oldest due first."""
    families = {household.pk for household in households}
    payments = list(
        with_allocated(Payment.objects.filter(provider=desk.provider, household__in=families, voided_at=None)).order_by(
            "on", "pk"
        )
    )
    invoices = list(standing_invoices(desk.provider).filter(household__in=families))
    open_of = {invoice.pk: open_amount(invoice) for invoice in invoices}
    existing = {
        (each.payment_id, each.invoice_id): each
        for each in Allocation.objects.filter(provider=desk.provider, payment__in=[payment.pk for payment in payments])
    }
    for payment in payments:
        left = payment.amount - payment.allocated
        for invoice in sorted(invoices, key=lambda each: _turn(each, payment)):
            part = min(left, open_of[invoice.pk]) if invoice.household_id == payment.household_id else ZERO
            if part <= 0:
                continue
            left -= part
            open_of[invoice.pk] -= part
            allocation = existing.get((payment.pk, invoice.pk)) or Allocation(
                provider=desk.provider, payment=payment, invoice=invoice, amount=ZERO
            )
            allocation.amount += part
            existing[payment.pk, invoice.pk] = desk.save(allocation)


def _turn(invoice: Invoice, payment: Payment) -> tuple[bool, date, int]:
    """The order in which a payment settles invoices."""
    is_of_another = payment.guardian_id is not None and payment.guardian_id != invoice.guardian_id
    return (is_of_another, invoice.due_on, invoice.pk)


def _open_on(invoice: Invoice, household: Household) -> Decimal:
    if invoice.household_id != household.pk:
        raise DomainError(_("This invoice belongs to another family."), field="invoice")
    current = standing_invoices(invoice.provider).filter(pk=invoice.pk).first()
    due = open_amount(current) if current else ZERO
    if not due:
        raise AlreadySettled(_("Nothing is left to pay on %(invoice)s.") % {"invoice": invoice}, field="invoice")
    return due
