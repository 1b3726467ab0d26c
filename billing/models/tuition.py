"""Tuition: agreements, invoices, payments."""

from datetime import date
from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import MoneyField, ShareField
from provider.models import Child, Enrolment, Guardian, Household, ProviderRow
from provider.models.base import ends_after_start
from provider.periods import ONE_DAY


class RatePeriod(models.TextChoices):
    WEEKLY = "weekly", _("a week")
    MONTHLY = "monthly", _("a month")


class Agreement(ProviderRow):
    """What is charged for an enrolment during [start, end): a flat rate for the place, in advance."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="agreements")
    rate = MoneyField()
    period = models.CharField(max_length=10, choices=RatePeriod)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["enrolment", "start"], name="agreement_one_start"),
            models.CheckConstraint(condition=models.Q(rate__gte=Decimal(0)), name="agreement_rate_not_negative"),
            models.CheckConstraint(condition=models.Q(period__in=RatePeriod.values), name="agreement_period_known"),
            ends_after_start(name="agreement_span"),
        ]

    def __str__(self) -> str:
        return f"{self.enrolment}: {self.rate} {self.get_period_display()}"

    @property
    def last_day(self) -> date | None:
        return self.end and self.end - ONE_DAY


class Payer(ProviderRow):
    """A guardian's share of an agreement; the shares of one agreement add up to one."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="payers")
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="pays")
    share = ShareField(default=Decimal("1.0000"))

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["agreement", "guardian"], name="payer_once_per_agreement"),
            models.CheckConstraint(
                condition=models.Q(share__gt=Decimal(0)) & models.Q(share__lte=Decimal(1)),
                name="payer_share_is_a_fraction",
            ),
        ]

    def __str__(self) -> str:
        return str(self.guardian)


class Series(models.TextChoices):
    INVOICE = "invoice", _("Invoice")
    CREDIT = "credit", _("Credit note")


class NumberCounter(models.Model):
    """The last number given in a series and year. Locked with the provider, so numbers have no gaps."""

    provider = models.ForeignKey("provider.Provider", on_delete=models.PROTECT, related_name="+")
    series = models.CharField(max_length=10, choices=Series)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "series", "year"], name="number_counter_once"),
            models.CheckConstraint(condition=models.Q(series__in=Series.values), name="number_counter_series_known"),
        ]

    def __str__(self) -> str:
        return f"{self.series} {self.year}: {self.last}"


class Invoice(ProviderRow):
    """An issued invoice or credit note: a snapshot, never edited or deleted, corrected by a credit note.

    `number` is the year's running number; a credit note has its own series, a negative total and `corrects`.
    """

    series = models.CharField(max_length=10, choices=Series, default=Series.INVOICE)
    year = models.PositiveSmallIntegerField()
    number = models.PositiveIntegerField()
    household = models.ForeignKey(Household, on_delete=models.PROTECT, related_name="invoices")
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="invoices")
    issued_on = models.DateField()
    due_on = models.DateField()
    covers_start = models.DateField()
    covers_end = models.DateField()
    total = MoneyField()
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="credit_note")
    reason = models.CharField(max_length=200, blank=True)
    issuer_name = models.CharField(max_length=120)
    issuer_address = models.TextField(blank=True)
    issuer_contact = models.CharField(max_length=160, blank=True)
    payer_name = models.CharField(max_length=120)
    payer_address = models.TextField(blank=True)
    language = models.CharField(max_length=2, default="en")
    note = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["provider", "covers_start"], name="invoice_by_period")]
        constraints = [
            models.UniqueConstraint(fields=["provider", "series", "year", "number"], name="invoice_number_once"),
            models.CheckConstraint(condition=models.Q(series__in=Series.values), name="invoice_series_known"),
            models.CheckConstraint(
                condition=models.Q(series=Series.INVOICE, corrects__isnull=True)
                | models.Q(series=Series.CREDIT, corrects__isnull=False),
                name="invoice_credit_note_corrects",
            ),
            ends_after_start("covers_start", "covers_end", name="invoice_span"),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        prefix = "C" if self.series == Series.CREDIT else ""
        return f"{prefix}{self.year}-{self.number:04d}"


class InvoiceLine(ProviderRow):
    """One charge, frozen with its arithmetic. `live` falls when a credit note takes it back: it may be billed anew."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    child = models.ForeignKey(Child, on_delete=models.PROTECT, null=True, blank=True, related_name="invoice_lines")
    agreement = models.ForeignKey(
        Agreement, on_delete=models.PROTECT, null=True, blank=True, related_name="invoice_lines"
    )
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="invoice_lines")
    covers_start = models.DateField()
    covers_end = models.DateField()
    description = models.CharField(max_length=200)
    arithmetic = models.CharField(max_length=200, blank=True)
    amount = MoneyField()
    live = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["invoice", "position"], name="invoice_line_position_once"),
            models.UniqueConstraint(
                fields=["agreement", "guardian", "covers_start"],
                condition=models.Q(live=True),
                name="invoice_line_never_twice",
            ),
            ends_after_start("covers_start", "covers_end", name="invoice_line_span"),
        ]

    def __str__(self) -> str:
        return self.description


class Method(models.TextChoices):
    CASH = "cash", _("Cash")
    CHEQUE = "cheque", _("Cheque")
    TRANSFER = "transfer", _("Bank transfer")
    CARD = "card", _("Card")


class Payment(ProviderRow):
    """Money received from a household, spread over invoices by its allocations; the rest is credit on account."""

    household = models.ForeignKey(Household, on_delete=models.PROTECT, related_name="payments")
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    on = models.DateField()
    amount = MoneyField()
    method = models.CharField(max_length=10, choices=Method)
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)
    void_reason = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "on"], name="payment_by_date")]
        constraints = [
            models.CheckConstraint(condition=models.Q(amount__gt=Decimal(0)), name="payment_positive"),
            models.CheckConstraint(condition=models.Q(method__in=Method.values), name="payment_method_known"),
        ]

    def __str__(self) -> str:
        return f"{self.household}, {self.on}"


class Allocation(ProviderRow):
    """The part of a payment that settles one invoice."""

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="allocations")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="allocations")
    amount = MoneyField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["payment", "invoice"], name="allocation_once"),
            models.CheckConstraint(condition=models.Q(amount__gt=Decimal(0)), name="allocation_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.amount}"
