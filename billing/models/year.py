"""What the owner states about a tax year."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import ShareField
from provider.models import ProviderRow
from provider.models.base import ends_after_start


class TaxBasis(models.TextChoices):
    CASH = "cash", _("Cash: money counts when it is received or paid")
    ACCRUAL = "accrual", _("Accrual: money counts when it is earned or owed")


class Rounding(models.TextChoices):
    PUBLISHED = "published", _("Step by step, as the published example")
    UNROUNDED = "unrounded", _("Only at the end")


class TaxYear(ProviderRow):
    """Choices for one calendar year. The provisional home share is used while the year is still running."""

    year = models.PositiveSmallIntegerField()
    basis = models.CharField(max_length=10, choices=TaxBasis)
    rounding = models.CharField(max_length=10, choices=Rounding, default=Rounding.PUBLISHED)
    provisional_home_share = ShareField(null=True, blank=True)
    counts_preparation = models.BooleanField(
        null=True,
        blank=True,
        help_text=_("Hours of work without children count; empty is the country's default"),
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "year"], name="tax_year_once"),
            models.CheckConstraint(condition=models.Q(basis__in=TaxBasis.values), name="tax_year_basis_known"),
            models.CheckConstraint(condition=models.Q(rounding__in=Rounding.values), name="tax_year_rounding_known"),
            models.CheckConstraint(
                condition=models.Q(provisional_home_share__isnull=True)
                | models.Q(provisional_home_share__gte=Decimal(0), provisional_home_share__lte=Decimal(1)),
                name="tax_year_share_is_a_fraction",
            ),
        ]

    def __str__(self) -> str:
        return str(self.year)


class FoodProgramme(ProviderRow):
    """Taking part in the food programme during [start, end), with its tier."""

    tier = models.PositiveSmallIntegerField(choices=[(1, _("Tier I")), (2, _("Tier II"))])
    start = models.DateField()
    end = models.DateField(null=True, blank=True)
    claims_own_children = models.BooleanField(
        default=False, help_text=_("Only when the provider's own household is income-eligible")
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "start"], name="food_programme_one_start"),
            models.CheckConstraint(condition=models.Q(tier__in=[1, 2]), name="food_programme_tier_known"),
            ends_after_start(name="food_programme_span"),
        ]

    def __str__(self) -> str:
        return self.get_tier_display()
