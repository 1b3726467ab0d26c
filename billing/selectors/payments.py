"""Payments and what they settled."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from billing.models import Allocation, Payment
from billing.selectors.invoices import with_allocated
from provider.models import Provider
from provider.money import ZERO


@dataclass(frozen=True, slots=True)
class PaymentFacts:
    """A payment, the invoices it settled, and what is left of it as credit on account."""

    payment: Payment
    allocations: tuple[Allocation, ...]
    left: Decimal


def payments_of(provider: Provider) -> QuerySet[Payment]:
    """All payments, voided ones too, newest first."""
    rows = Payment.objects.filter(provider=provider).select_related("household", "guardian")
    return with_allocated(rows).order_by("-on", "-pk")


def payment_facts(payment: Payment) -> PaymentFacts:
    """What a payment paid and what is left of it, nothing once voided. One query."""
    allocations = tuple(Allocation.objects.filter(payment=payment).select_related("invoice").order_by("pk"))
    used = sum((each.amount for each in allocations), ZERO)
    return PaymentFacts(payment, allocations, ZERO if payment.voided_at else payment.amount - used)
