"""What she owns, how it came, where it lies this month and what came back."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from curriculum.models.themes import LearningCentre, ThemeRun
from provider.fields import MoneyField, ScaledField
from provider.models import ProviderRow, StoredFile


class Keeping(models.TextChoices):
    DURABLE = "durable", _("Durable: comes back every time")
    CONSUMABLE = "consumable", _("Used up")


class Bin(ProviderRow):
    """A box, drawer or shelf with a label of its own."""

    label = models.CharField(max_length=40)
    room = models.CharField(max_length=80, blank=True)
    shelf = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "label"], name="bin_label_once")]

    def __str__(self) -> str:
        return self.label


class Condition(models.TextChoices):
    GOOD = "good", _("Good")
    WORN = "worn", _("Worn")
    MEND = "mend", _("Needs mending")


class Material(ProviderRow):
    """A kind of thing. Its lots (`Acquisition`) say when and how each came."""

    name = models.CharField(max_length=120)
    keeping = models.CharField(max_length=10, choices=Keeping, default=Keeping.DURABLE)
    unit = models.CharField(max_length=30, default="piece", help_text=_("What one of it is called: piece, set, sheet"))
    place = models.CharField(max_length=120, blank=True, help_text=_("Where it is when it has no bin"))
    bin = models.ForeignKey(Bin, on_delete=models.PROTECT, null=True, blank=True, related_name="materials")
    photo = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pieces_in_set = models.PositiveSmallIntegerField(null=True, blank=True)
    age_mark_months = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=_("Youngest age the maker names, in months")
    )
    condition = models.CharField(max_length=4, choices=Condition, default=Condition.GOOD)
    care_note = models.CharField(max_length=200, blank=True, help_text=_("How to clean and keep it"))
    source = models.CharField(max_length=200, blank=True, help_text=_("Where the idea or print comes from"))
    licence = models.CharField(max_length=120, blank=True, help_text=_("What its maker allows"))
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "name"], name="material_name_once"),
            models.CheckConstraint(condition=models.Q(keeping__in=Keeping.values), name="material_keeping_known"),
            models.CheckConstraint(condition=models.Q(condition__in=Condition.values), name="material_condition"),
        ]

    def __str__(self) -> str:
        return self.name


class How(models.TextChoices):
    BOUGHT = "bought", _("Bought")
    SECOND_HAND = "second_hand", _("Bought second hand")
    GIVEN = "given", _("Given")
    FROM_HOME = "from_home", _("From the household")
    MADE = "made", _("Home-made")


class Acquisition(ProviderRow):
    """One lot of a material: what it cost (`basis`) and in how many runs it is expected to be used.

    `basis` is written from the receipt line by billing, or by hand for a lot that came without a receipt.
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    on = models.DateField()
    how = models.CharField(max_length=12, choices=How)
    quantity = ScaledField(places=3)
    basis = MoneyField(default=Decimal("0.00"))
    residual = MoneyField(default=Decimal("0.00"))
    expected_uses = models.PositiveSmallIntegerField(default=1, help_text=_("Runs it should last"))
    source = models.CharField(max_length=120, blank=True, help_text=_("Shop or donor"))
    estimated_value = MoneyField(null=True, blank=True, help_text=_("Of a given lot: a note, never a cost"))
    note = models.TextField(blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(how__in=How.values), name="lot_how_known"),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="lot_quantity_positive"),
            models.CheckConstraint(condition=models.Q(basis__gte=Decimal(0)), name="lot_basis_not_negative"),
            models.CheckConstraint(
                condition=models.Q(residual__gte=Decimal(0)) & models.Q(residual__lte=models.F("basis")),
                name="lot_residual_within_basis",
            ),
            models.CheckConstraint(condition=models.Q(expected_uses__gte=1), name="lot_has_a_use"),
            models.CheckConstraint(
                condition=~models.Q(how=How.GIVEN) | models.Q(basis=Decimal(0)), name="lot_given_has_no_basis"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material} ({self.on:%Y-%m-%d})"


class Placement(ProviderRow):
    """A lot lies out in a centre for a run. `quantity` in the material's unit."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="placements")
    lot = models.ForeignKey(Acquisition, on_delete=models.PROTECT, related_name="placements")
    centre = models.ForeignKey(
        LearningCentre, on_delete=models.PROTECT, null=True, blank=True, related_name="placements"
    )
    quantity = ScaledField(places=3)
    used_as = models.CharField(max_length=120, blank=True, help_text=_("What it stands for this time"))
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "lot"], condition=models.Q(voided_at__isnull=True), name="placement_once_per_run"
            ),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="placement_quantity_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.lot} in {self.run}"


class PutAway(ProviderRow):
    """What came back from a placement. Broken, missing and used-up quantities leave the lot on `on`."""

    placement = models.ForeignKey(Placement, on_delete=models.PROTECT, related_name="put_away")
    on = models.DateField()
    returned = ScaledField(places=3, default=Decimal(0))
    broken = ScaledField(places=3, default=Decimal(0))
    missing = ScaledField(places=3, default=Decimal(0))
    used_up = ScaledField(places=3, default=Decimal(0))
    washed = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    mended: Decimal | None  # pieces of `broken` that are whole again, as `selectors.stock.counts_of` adds them up

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(returned__gte=0, broken__gte=0, missing__gte=0, used_up__gte=0),
                name="put_away_not_negative",
            )
        ]

    def __str__(self) -> str:
        return f"{self.placement}, {self.on}"
