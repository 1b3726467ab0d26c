"""The day in between: care of the smallest, notes for families, messages to all of them."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import ScaledField
from provider.models.base import ProviderRow
from provider.models.families import Child


class MomentKind(models.TextChoices):
    SLEEP_CHECK = "sleep_check", _("Sleep check")
    ASLEEP = "asleep", _("Fell asleep")
    AWAKE = "awake", _("Woke up")
    BOTTLE = "bottle", _("Bottle")
    DIAPER = "diaper", _("Diaper")
    TOILET = "toilet", _("Toilet")
    OTHER = "other", _("Other")


class CareMoment(ProviderRow):
    """One tap about a baby or toddler. `amount` is millilitres for a bottle."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="moments")
    at = models.DateTimeField()
    kind = models.CharField(max_length=12, choices=MomentKind)
    amount = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "at"], name="care_moment_by_time")]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=MomentKind.values), name="care_moment_kind_known")
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class DayNote(ProviderRow):
    """A short note about a child's day. A family sees it only when `for_family`."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="day_notes")
    day = models.DateField()
    text = models.TextField()
    for_family = models.BooleanField(default=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "day"], name="day_note_by_day")]

    def __str__(self) -> str:
        return f"{self.day}"


class FamilyNotice(ProviderRow):
    """A message to all families with a child enrolled, such as "closed today, ill", by e-mail and at their door."""

    day = models.DateField()
    subject = models.CharField(max_length=120)
    text = models.TextField()
    queued_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.subject


class NoticeDelivery(ProviderRow):
    """One household's copy of a notice: sent, refused, or without an address."""

    notice = models.ForeignKey(FamilyNotice, on_delete=models.PROTECT, related_name="deliveries")
    household = models.ForeignKey("provider.Household", on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["notice", "household"], name="notice_delivery_once")]

    def __str__(self) -> str:
        return f"{self.notice}"


class MealKind(models.TextChoices):
    BREAKFAST = "breakfast", _("Breakfast")
    MORNING_SNACK = "morning_snack", _("Morning snack")
    LUNCH = "lunch", _("Lunch")
    AFTERNOON_SNACK = "afternoon_snack", _("Afternoon snack")
    SUPPER = "supper", _("Supper")
    EVENING_SNACK = "evening_snack", _("Evening snack")


class MealServed(ProviderRow):
    """A child ate a meal on a day. What may be claimed of it is worked out in the claim, never here."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="meals")
    day = models.DateField()
    kind = models.CharField(max_length=16, choices=MealKind)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "day"], name="meal_served_by_day")]
        constraints = [
            models.UniqueConstraint(
                fields=["child", "day", "kind"],
                condition=models.Q(voided_at__isnull=True),
                name="meal_once_per_child_and_day",
            ),
            models.CheckConstraint(condition=models.Q(kind__in=MealKind.values), name="meal_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.day}"


class MenuItem(ProviderRow):
    """What is planned for a meal of a day; `served_instead` is written on it when something else was served."""

    day = models.DateField()
    kind = models.CharField(max_length=16, choices=MealKind)
    text = models.CharField(max_length=200)
    served_instead = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "day", "kind"], name="menu_item_once"),
            models.CheckConstraint(condition=models.Q(kind__in=MealKind.values), name="menu_item_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.get_kind_display()}"


class Medication(ProviderRow):
    """A guardian's signed instruction: what, how much, when, until when. Given doses point at it."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="medications")
    name = models.CharField(max_length=120)
    dose = ScaledField(places=2, help_text=_("Amount each time"))
    unit = models.CharField(max_length=20, help_text=_("ml, drops, tablets"))
    most_per_day = models.PositiveSmallIntegerField(default=1)
    hours_between = models.PositiveSmallIntegerField(default=4, help_text=_("Fewest hours between two doses"))
    start = models.DateField()
    end = models.DateField(help_text=_("First day it may no longer be given"))
    reason = models.CharField(max_length=200, blank=True)
    signed_by = models.CharField(max_length=120)
    signed_on = models.DateField()
    file = models.ForeignKey("provider.StoredFile", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.name


class Dose(ProviderRow):
    """A dose given. One outside its instruction is kept with `outside_because`, after being questioned."""

    medication = models.ForeignKey(Medication, on_delete=models.PROTECT, related_name="doses")
    given_at = models.DateTimeField()
    amount = ScaledField(places=2)
    given_by = models.CharField(max_length=120)
    outside_because = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    def __str__(self) -> str:
        return f"{self.medication}"
