"""What is planned for a run: activities and what they practise; what is to be bought; what was learnt."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from curriculum.models.materials import Material
from curriculum.models.themes import LearningCentre, ThemeRun
from provider.fields import MoneyField, ScaledField
from provider.models import ProviderRow


class Activity(ProviderRow):
    """A reusable idea for one centre. `source` and `licence` let it be found and credited again."""

    name = models.CharField(max_length=120)
    note = models.TextField(blank=True)
    from_months = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("Youngest age in months"))
    to_months = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("Oldest age in months"))
    source = models.CharField(max_length=200, blank=True, help_text=_("Where the idea or print comes from"))
    licence = models.CharField(max_length=120, blank=True, help_text=_("What its maker allows"))

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "name"], name="activity_name_once")]
        verbose_name_plural = "activities"

    def __str__(self) -> str:
        return self.name


class OwnGoal(ProviderRow):
    """A goal in the owner's own words, beside those of the frameworks. `domain` is a domain code or her own word."""

    code = models.CharField(max_length=20)
    domain = models.CharField(max_length=60)
    title = models.CharField(max_length=160)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "code"], name="own_goal_code_once")]

    def __str__(self) -> str:
        return self.title


class ActivityGoal(ProviderRow):
    """What an activity practises. `goal` is a goal code of a framework file or of an OwnGoal."""

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="goals")
    goal = models.CharField(max_length=40)
    is_main = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["activity", "goal"], name="activity_goal_once")]

    def __str__(self) -> str:
        return self.goal


class PlannedActivity(ProviderRow):
    """An activity in a centre during a run."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="activities")
    centre = models.ForeignKey(LearningCentre, on_delete=models.PROTECT, related_name="activities")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="planned")
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "centre", "activity"],
                condition=models.Q(voided_at__isnull=True),
                name="planned_activity_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.activity} in {self.centre}"


class PlannedMaterial(ProviderRow):
    """A need: so many of a material in a centre during a run, whether or not she has them."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="needs")
    centre = models.ForeignKey(LearningCentre, on_delete=models.PROTECT, null=True, blank=True, related_name="needs")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="needs")
    quantity = ScaledField(places=3)
    used_as = models.CharField(max_length=120, blank=True, help_text=_("What it stands for this time"))
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "centre", "material"],
                condition=models.Q(voided_at__isnull=True),
                name="planned_material_once",
            ),
            models.UniqueConstraint(
                fields=["run", "material"],
                condition=models.Q(voided_at__isnull=True, centre__isnull=True),
                name="planned_material_once_anywhere",
            ),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="planned_material_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.material} for {self.run}"


class ShoppingItem(ProviderRow):
    """Something to buy for a run. Ticked off when bought; it then starts a receipt line."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="shopping")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, blank=True, related_name="shopping")
    text = models.CharField(max_length=120)
    quantity = ScaledField(places=3, default=Decimal("1.000"))
    shop = models.CharField(max_length=120, blank=True)
    estimate = MoneyField(null=True, blank=True, help_text=_("What it should cost in all"))
    ordered_on = models.DateField(null=True, blank=True, help_text=_("On the way since"))
    bought_on = models.DateField(null=True, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="shopping_quantity_positive")
        ]

    def __str__(self) -> str:
        return self.text


class WishItem(ProviderRow):
    """A clean odd or end that families may bring, asked for in the letter."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="wishes")
    text = models.CharField(max_length=120)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, blank=True, related_name="wishes")
    arrived_on = models.DateField(null=True, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.text


class LetterWord(ProviderRow):
    """The owner's own words in the letter about a run, in one language: greeting, books to look for."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="letters")
    language = models.CharField(max_length=2)
    opening = models.TextField(blank=True)
    books = models.TextField(blank=True, help_text=_("One a line"))
    closing = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "language"], name="letter_once_per_language")]

    def __str__(self) -> str:
        return f"{self.run} ({self.language})"


class Verdict(models.TextChoices):
    KEEP = "keep", _("Keep")
    CHANGE = "change", _("Change")
    DROP = "drop", _("Drop")


class RunReview(ProviderRow):
    """What the last page of putting away asked; next year's run starts from it."""

    run = models.OneToOneField(ThemeRun, on_delete=models.PROTECT, related_name="review")
    loved = models.TextField(blank=True, help_text=_("What the children loved"))
    next_time = models.TextField(blank=True, help_text=_("What to do differently"))

    def __str__(self) -> str:
        return str(self.run)


class ReviewMark(ProviderRow):
    """The verdict on one activity or material of a run."""

    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="marks")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, null=True, blank=True, related_name="marks")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, blank=True, related_name="marks")
    verdict = models.CharField(max_length=6, choices=Verdict)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "activity"], name="review_mark_once_per_activity"),
            models.UniqueConstraint(fields=["run", "material"], name="review_mark_once_per_material"),
            models.CheckConstraint(
                condition=models.Q(activity__isnull=True, material__isnull=False)
                | models.Q(activity__isnull=False, material__isnull=True),
                name="review_mark_of_one_thing",
            ),
            models.CheckConstraint(condition=models.Q(verdict__in=Verdict.values), name="review_verdict_known"),
        ]

    def __str__(self) -> str:
        return self.get_verdict_display()
