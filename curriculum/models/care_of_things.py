"""Where things are kept, what about them needs checking, how they are cleaned and mended."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from curriculum.models.materials import Acquisition, Material, PutAway
from provider.fields import ScaledField
from provider.models import ProviderRow


class Filler(models.TextChoices):
    NONE = "", _("None")
    WATER = "water", _("Water")
    SAND = "sand", _("Sand")
    DOUGH = "dough", _("Dough")
    RAW_FLOUR = "raw_flour", _("Raw flour")
    DRY_FOOD = "dry_food", _("Dry beans, lentils, rice, pasta, corn")
    KIDNEY_BEANS = "kidney_beans", _("Raw kidney beans")
    SMALL_CRAFT = "small_craft", _("Pom-poms, buttons, beads")
    WATER_BEADS = "water_beads", _("Water beads")
    FOAM = "foam", _("Polystyrene foam")


class SafetyFacts(ProviderRow):
    """What was measured or seen of a material, for screening. Millimetres; empty means nobody looked."""

    material = models.OneToOneField(Material, on_delete=models.PROTECT, related_name="safety")
    smallest_a = ScaledField(places=1, null=True, blank=True, help_text=_("Smallest piece: shortest side"))
    smallest_b = ScaledField(places=1, null=True, blank=True, help_text=_("Smallest piece: middle side"))
    smallest_c = ScaledField(places=1, null=True, blank=True, help_text=_("Smallest piece: longest side"))
    ball_diameter = ScaledField(places=1, null=True, blank=True, help_text=_("Smallest ball or egg: across"))
    cord_length = ScaledField(places=1, null=True, blank=True, help_text=_("Longest free cord or elastic"))
    loop_length = ScaledField(places=1, null=True, blank=True, help_text=_("Longest loop, all the way round"))
    magnet = models.BooleanField(null=True, blank=True)
    button_cell = models.BooleanField(null=True, blank=True)
    latex = models.BooleanField(null=True, blank=True)
    plastic_bag = models.BooleanField(null=True, blank=True)
    old_paint = models.BooleanField(null=True, blank=True)
    filler = models.CharField(max_length=12, choices=Filler, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(filler__in=Filler.values), name="safety_filler_known")]

    def __str__(self) -> str:
        return str(self.material)


class RecallResult(models.TextChoices):
    NOTHING = "nothing", _("Nothing found")
    RECALLED = "recalled", _("Recalled")
    UNSURE = "unsure", _("Could not tell")


class RecallCheck(ProviderRow):
    """A recall look-up for a second-hand or given lot."""

    lot = models.ForeignKey(Acquisition, on_delete=models.PROTECT, related_name="recall_checks")
    on = models.DateField()
    where = models.CharField(max_length=160, help_text=_("Where it was looked up"))
    result = models.CharField(max_length=8, choices=RecallResult)
    again_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(result__in=RecallResult.values), name="recall_result_known")
        ]

    def __str__(self) -> str:
        return f"{self.lot}, {self.on}"


class Mending(models.TextChoices):
    REPAIR = "repair", _("Repair")
    REPLACE = "replace", _("Replace, or claim from the shop")
    WRITE_OFF = "write_off", _("Write off")


class BrokenThing(ProviderRow):
    """What is to become of pieces that came back broken."""

    put_away = models.ForeignKey(PutAway, on_delete=models.PROTECT, related_name="broken_things")
    quantity = ScaledField(places=3)
    plan = models.CharField(max_length=9, choices=Mending)
    how = models.CharField(max_length=200, blank=True, help_text=_("How it broke"))
    done_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=200, blank=True)
    mended = ScaledField(places=3, default=Decimal("0.000"), help_text=_("Pieces that are whole again"))

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(plan__in=Mending.values), name="mending_plan_known"),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="broken_quantity_positive"),
            models.CheckConstraint(
                condition=models.Q(mended__gte=Decimal(0)) & models.Q(mended__lte=models.F("quantity")),
                name="broken_mended_within",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.put_away.placement.lot}: {self.get_plan_display()}"


class CleaningAct(models.TextChoices):
    CLEAN = "clean", _("Clean")
    SANITISE = "sanitise", _("Clean and sanitise")
    DISINFECT = "disinfect", _("Clean and disinfect")
    LAUNDER = "launder", _("Machine wash")


class CleaningRoutine(ProviderRow):
    """How a material is cleaned, and how often. `every_days` 0 means after each use."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="cleaning")
    act = models.CharField(max_length=9, choices=CleaningAct)
    every_days = models.PositiveSmallIntegerField(default=7)
    last_done_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(act__in=CleaningAct.values), name="cleaning_act_known")
        ]

    def __str__(self) -> str:
        return f"{self.material}: {self.get_act_display()}"
