"""Who is cared for, and on which days."""

from typing import cast

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider import periods
from provider.models.base import ProviderRow, Weekday, ends_after_start


class Language(models.TextChoices):
    ENGLISH = "en", _("English")
    FRENCH = "fr", _("French")
    SPANISH = "es", _("Spanish")


class Household(ProviderRow):
    """A family as the books see it: one balance, one language, one address."""

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "name"], name="household_name_once")]

    def __str__(self) -> str:
        return self.name


class Guardian(ProviderRow):
    """A parent or other adult of a household. Who pays which share of tuition stands in the agreement."""

    household = models.ForeignKey(Household, on_delete=models.PROTECT, related_name="guardians")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)

    def __str__(self) -> str:
        return self.name


class Child(ProviderRow):
    """A child of a household. The provider's own children are kept too: they count for capacity, never for tuition."""

    household = models.ForeignKey(Household, on_delete=models.PROTECT, related_name="children")
    name = models.CharField(max_length=120)
    preferred_name = models.CharField(max_length=60, blank=True, help_text=_("As called in the playroom"))
    birth_date = models.DateField()
    is_own_child = models.BooleanField(default=False, help_text=_("The provider's own child"))
    label_letters = models.CharField(max_length=12, blank=True, help_text=_("As written on labels and letter pieces"))
    physician = models.CharField(max_length=160, blank=True, help_text=_("Name and telephone"))
    health_insurer = models.CharField(max_length=160, blank=True)
    meals_not_claimed = models.BooleanField(default=False, help_text=_("Leave this child out of food-programme claims"))
    erased_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.preferred_name or self.name

    @property
    def letters(self) -> str:
        """What is written on labels and letter pieces: as chosen, else the first letters of the name in use."""
        return self.label_letters or "".join(word[0] for word in str(self).replace("-", " ").split()).upper()[:3]


class Enrolment(ProviderRow):
    """A child's place during [start, end). A free place is enrolled but never billed."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="enrolments")
    start = models.DateField()
    end = models.DateField(null=True, blank=True, help_text=_("First day no longer enrolled"))
    is_free_place = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["child", "start"], name="enrolment_one_start"),
            ends_after_start(name="enrolment_span"),
        ]

    def __str__(self) -> str:
        return str(self.child)


class Cycle(models.TextChoices):
    EVERY = "every", _("Every week")
    ODD = "odd", _("Odd weeks of the year")
    EVEN = "even", _("Even weeks of the year")


class PatternDay(ProviderRow):
    """One weekday of an enrolment's weekly pattern during [start, end): planned arrival and departure, local time."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="pattern")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    arrives = models.TimeField()
    leaves = models.TimeField()
    cycle = models.CharField(max_length=5, choices=Cycle, default=Cycle.EVERY)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["enrolment", "weekday", "cycle", "start", "arrives"], name="pattern_day_once"
            ),
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="pattern_day_weekday"),
            models.CheckConstraint(condition=models.Q(cycle__in=Cycle.values), name="pattern_day_cycle_known"),
            models.CheckConstraint(condition=models.Q(leaves__gt=models.F("arrives")), name="pattern_day_order"),
            ends_after_start(name="pattern_day_span"),
        ]

    @property
    def slot(self) -> periods.WeekSlot:
        """The row as calculators know it."""
        return periods.WeekSlot(self.weekday, self.arrives, self.leaves, cast(periods.Cycle, self.cycle))

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.arrives:%H:%M}-{self.leaves:%H:%M}"
