"""Who may come in, and into which business."""

import zoneinfo
from decimal import Decimal

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import MoneyField, ScaledField
from provider.models.base import ProviderRow, Row, ends_after_start


class User(AbstractUser):
    """A login. What it may see follows from its memberships alone."""

    def __str__(self) -> str:
        return self.get_full_name() or self.get_username()


class Country(models.TextChoices):
    US = "US", _("United States")
    CANADA = "CA", _("Canada")


class AreaUnit(models.TextChoices):
    SQUARE_FEET = "ft2", _("square feet")
    SQUARE_METRES = "m2", _("square metres")


# Words that are addresses of the site itself.
RESERVED_SLUGS = frozenset(
    {"sign-in", "sign-out", "set-up", "door", "feed", "health", "static", "media", "admin", "help", "new"}
)


def check_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("“%(name)s” is not a known time zone."), params={"name": name})


def check_slug(slug: str) -> None:
    if slug in RESERVED_SLUGS:
        raise ValidationError(_("This address is taken by the site itself."))


class Provider(Row):
    """One home-based business with its own books. Everything else belongs to exactly one provider."""

    slug = models.SlugField(
        max_length=40, unique=True, validators=[RegexValidator(r"^[a-z0-9][a-z0-9-]*$"), check_slug]
    )
    name = models.CharField(max_length=120)
    country = models.CharField(max_length=2, choices=Country)
    region = models.CharField(max_length=3, blank=True, help_text=_("State or province, two letters"))
    time_zone = models.CharField(max_length=60, validators=[check_time_zone])
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    area_unit = models.CharField(max_length=3, choices=AreaUnit)
    home_area = ScaledField(places=2, help_text=_("Whole home, in the unit above, basement and garage included"))
    opened_on = models.DateField(help_text=_("First day of business"))
    closed_on = models.DateField(null=True, blank=True)
    hourly_value = MoneyField(
        null=True,
        blank=True,
        help_text=_("What an hour of your own work is worth to you. Shown beside costs, never booked."),
    )
    invoice_days_due = models.PositiveSmallIntegerField(
        default=5, help_text=_("Days from issue until an invoice is due")
    )
    invoice_note = models.TextField(blank=True)
    is_example = models.BooleanField(default=False, help_text=_("Invented business, for looking round"))

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(home_area__gt=Decimal(0)), name="provider_home_area_positive"),
            models.CheckConstraint(condition=models.Q(country__in=Country.values), name="provider_country_known"),
            models.CheckConstraint(condition=models.Q(area_unit__in=AreaUnit.values), name="provider_area_unit_known"),
            ends_after_start("opened_on", "closed_on", name="provider_closes_after_opening"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @property
    def currency(self) -> str:
        return "CAD" if self.country == Country.CANADA else "USD"


class Role(models.TextChoices):
    OWNER = "owner", _("Owner")
    HELPER = "helper", _("Helper")
    PREPARER = "preparer", _("Tax preparer")
    FAMILY = "family", _("Family")


class Membership(ProviderRow):
    """A user's role in one business. A family member also names the household whose papers it may see."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role)
    household = models.ForeignKey(
        "provider.Household", on_delete=models.PROTECT, null=True, blank=True, related_name="memberships"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "provider"], name="membership_once_per_provider"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_known"),
            models.CheckConstraint(
                condition=(models.Q(role=Role.FAMILY) & models.Q(household__isnull=False))
                | (~models.Q(role=Role.FAMILY) & models.Q(household__isnull=True)),
                name="membership_household_only_for_family",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"
