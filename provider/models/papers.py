"""Papers with dates: of a child, of a family, of the business and the people who work in it."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import MoneyField, ScaledField
from provider.models.base import ProviderRow, ends_after_start
from provider.models.families import Child, Household
from provider.models.trail import StoredFile
from provider.periods import DateSpan


class FamilyPaperKind(models.TextChoices):
    AGREEMENT = "agreement", _("Signed agreement")
    HANDBOOK = "handbook", _("Handbook received")
    TRIPS = "trips", _("Permission for trips")
    PHOTOS = "photos", _("Permission for photos")
    EMERGENCY = "emergency", _("Consent to emergency care")
    IMMUNISATION = "immunisation", _("Immunisation record or exemption")
    HEALTH = "health", _("Health examination")
    MEDICAL_PLAN = "medical_plan", _("Medical plan")
    OTHER = "other", _("Other")


class FamilyPaper(ProviderRow):
    """A paper of a family, or of one of its children. A renewed paper is a new row, so that the old version is kept."""

    household = models.ForeignKey(Household, on_delete=models.PROTECT, related_name="papers")
    child = models.ForeignKey(Child, on_delete=models.PROTECT, null=True, blank=True, related_name="papers")
    kind = models.CharField(max_length=14, choices=FamilyPaperKind)
    title = models.CharField(max_length=120, blank=True)
    edition = models.CharField(max_length=40, blank=True, help_text=_("Version of the text that was signed"))
    granted = models.BooleanField(default=True, help_text=_("Permission given; clear it when it was refused"))
    signed_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True, help_text=_("First day it no longer counts"))
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "expires_on"], name="family_paper_by_expiry")]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=FamilyPaperKind.values), name="family_paper_kind_known"),
            ends_after_start("signed_on", "expires_on", name="family_paper_span"),
        ]

    def __str__(self) -> str:
        return self.title or self.get_kind_display()


class Engagement(models.TextChoices):
    OWNER = "owner", _("Owner")
    EMPLOYEE = "employee", _("Employee")
    CONTRACTOR = "contractor", _("Independent contractor")
    VOLUNTEER = "volunteer", _("Volunteer")


class Person(ProviderRow):
    """Somebody who works in the business, with or without a login."""

    name = models.CharField(max_length=120)
    engagement = models.CharField(max_length=10, choices=Engagement)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)
    membership = models.OneToOneField(
        "provider.Membership", on_delete=models.PROTECT, null=True, blank=True, related_name="person"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "name"], name="person_name_once"),
            models.CheckConstraint(
                condition=models.Q(engagement__in=Engagement.values), name="person_engagement_known"
            ),
            ends_after_start(name="person_span"),
        ]

    def __str__(self) -> str:
        return self.name


class OwnPaperKind(models.TextChoices):
    LICENCE = "licence", _("Licence or registration")
    FIRST_AID = "first_aid", _("First aid and resuscitation")
    BACKGROUND = "background", _("Background check")
    INSURANCE = "insurance", _("Insurance")
    TRAINING = "training", _("Training")
    HEALTH = "health", _("Health statement")
    INSPECTION = "inspection", _("Inspection of the home")
    OTHER = "other", _("Other")


class OwnPaper(ProviderRow):
    """A paper of the business, or of one person in it. `hours` counts training hours."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="papers")
    kind = models.CharField(max_length=12, choices=OwnPaperKind)
    title = models.CharField(max_length=120)
    issued_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True, help_text=_("First day it no longer counts"))
    hours = ScaledField(places=2, null=True, blank=True)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "expires_on"], name="own_paper_by_expiry")]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=OwnPaperKind.values), name="own_paper_kind_known"),
            ends_after_start("issued_on", "expires_on", name="own_paper_span"),
        ]

    def __str__(self) -> str:
        return self.title


class HelperPay(ProviderRow):
    """One payday of a helper, as worked out elsewhere: nothing here is computed."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="pay")
    paid_on = models.DateField()
    period_start = models.DateField()
    period_end = models.DateField(help_text=_("First day after the period"))
    gross = MoneyField()
    withheld = MoneyField(default=Decimal("0.00"))
    employer_part = MoneyField(default=Decimal("0.00"), help_text=_("Employer's own contributions"))
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(gross__gt=Decimal(0), withheld__gte=Decimal(0), employer_part__gte=Decimal(0)),
                name="helper_pay_amounts",
            ),
            models.CheckConstraint(condition=models.Q(withheld__lte=models.F("gross")), name="helper_pay_withheld"),
            ends_after_start("period_start", "period_end", name="helper_pay_span"),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.paid_on}"

    @property
    def period(self) -> DateSpan:
        return DateSpan(self.period_start, self.period_end)
