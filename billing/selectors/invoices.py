"""Issued invoices and credit notes, and what is left to pay on them."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet, Sum, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from billing.models import Invoice, InvoiceLine, Series
from provider.fields import MoneyField
from provider.models import Provider
from provider.money import ZERO
from provider.periods import DateSpan

NOTHING = Value(ZERO, output_field=MoneyField())

STATES = {
    "open": (_("To pay"), ""),
    "overdue": (_("Overdue"), "problem"),
    "paid": (_("Paid"), "done"),
    "credited": (_("Taken back"), "caution"),
    "credit": (_("Credit note"), "caution"),
}


def with_allocated(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Annotate invoices or payments with `allocated`, the sum of their allocations."""
    return rows.annotate(allocated=Coalesce(Sum("allocations__amount"), NOTHING))


def invoices_of(provider: Provider) -> QuerySet[Invoice]:
    """All invoices and credit notes, newest number first, each ready for `open_amount` and `state`."""
    rows = Invoice.objects.filter(provider=provider).select_related("household", "guardian", "corrects", "credit_note")
    return with_allocated(rows).order_by("-issued_on", "-series", "-number")


def standing_invoices(provider: Provider) -> QuerySet[Invoice]:
    """Invoices that no credit note has taken back, oldest due first, each ready for `open_amount`."""
    rows = Invoice.objects.filter(provider=provider, series=Series.INVOICE, credit_note=None).select_related(
        "credit_note"
    )
    return with_allocated(rows).order_by("due_on", "pk")


def open_amount(invoice: Invoice) -> Decimal:
    """What is left to pay: nothing on a credit note or an invoice that was taken back. Needs `allocated`."""
    if invoice.series == Series.CREDIT or hasattr(invoice, "credit_note"):
        return ZERO
    return invoice.total - invoice.allocated  # type: ignore[attr-defined]  # annotated


def state(invoice: Invoice, today: date) -> str:
    """One of STATES."""
    if invoice.series == Series.CREDIT:
        return "credit"
    if hasattr(invoice, "credit_note"):
        return "credited"
    if not open_amount(invoice):
        return "paid"
    return "overdue" if invoice.due_on < today else "open"


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of an invoice as printed, with its arithmetic in words."""

    description: str
    arithmetic: str
    period: DateSpan
    amount: Decimal


@dataclass(frozen=True, slots=True)
class InvoicePaper:
    """Everything an invoice or credit note says, as it was issued, and what is open on the day of printing."""

    invoice: Invoice
    lines: tuple[PaperLine, ...]
    paid: Decimal
    open: Decimal
    state: str
    as_of: date

    @property
    def is_credit(self) -> bool:
        return self.invoice.series == Series.CREDIT

    @property
    def state_label(self) -> Any:
        return STATES[self.state][0]

    @property
    def state_kind(self) -> str:
        return STATES[self.state][1]


def invoice_papers(invoices: QuerySet[Invoice], today: date) -> list[InvoicePaper]:
    """Papers of invoices taken from `invoices_of`, in two queries."""
    rows = list(invoices)
    lines: dict[int, list[PaperLine]] = {row.pk: [] for row in rows}
    for line in InvoiceLine.objects.filter(invoice__in=rows).order_by("position"):
        period = DateSpan(line.covers_start, line.covers_end)
        lines[line.invoice_id].append(PaperLine(line.description, line.arithmetic, period, line.amount))
    return [
        InvoicePaper(
            row,
            tuple(lines[row.pk]),
            row.allocated,  # type: ignore[attr-defined]  # annotated
            open_amount(row),
            state(row, today),
            today,
        )
        for row in rows
    ]
