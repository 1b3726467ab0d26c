"""Safety records. A correction is a new row that points at the one it corrects; nothing is overwritten."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.models.base import ProviderRow
from provider.models.families import Child


class IncidentKind(models.TextChoices):
    INJURY = "injury", _("Injury")
    ILLNESS = "illness", _("Illness")
    BITE = "bite", _("Bite")
    MISSING = "missing", _("Child missing or left alone")
    OTHER = "other", _("Other")


class Incident(ProviderRow):
    """An incident or illness: what happened, first aid, when and how the parent was told, who signed."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="incidents")
    kind = models.CharField(max_length=8, choices=IncidentKind)
    happened_at = models.DateTimeField()
    place = models.CharField(max_length=120, blank=True)
    what = models.TextField()
    first_aid = models.TextField(blank=True)
    told_whom = models.CharField(max_length=120, blank=True)
    told_how = models.CharField(max_length=60, blank=True)
    told_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.CharField(max_length=120, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    follow_up = models.TextField(blank=True)
    written_by = models.CharField(max_length=120)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["provider", "happened_at"], name="incident_by_time")]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=IncidentKind.values), name="incident_kind_known")
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class DrillKind(models.TextChoices):
    FIRE = "fire", _("Fire")
    SHELTER = "shelter", _("Take shelter")
    LOCKDOWN = "lockdown", _("Lock the doors")
    OTHER = "other", _("Other")


class Drill(ProviderRow):
    """An emergency drill. `seconds` is how long it took until everybody was out or under cover."""

    kind = models.CharField(max_length=8, choices=DrillKind)
    held_at = models.DateTimeField()
    adults = models.PositiveSmallIntegerField()
    children = models.PositiveSmallIntegerField()
    seconds = models.PositiveIntegerField(null=True, blank=True)
    exit_used = models.CharField(max_length=80, blank=True)
    led_by = models.CharField(max_length=120)
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(kind__in=DrillKind.values), name="drill_kind_known")]

    def __str__(self) -> str:
        return self.get_kind_display()


class HomeCheck(ProviderRow):
    """A round through the home: each item of the owner's own list with ok or not, and what was done about it."""

    done_on = models.DateField()
    done_by = models.CharField(max_length=120)
    items = models.JSONField(help_text=_("List of {item, ok, note}"))
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.done_on}"

    @property
    def is_in_order(self) -> bool:
        return all(each["ok"] for each in self.items)


class Reminder(models.TextChoices):
    DRILL = "drill", _("Emergency drill")
    HOME_CHECK = "home_check", _("Home check")


class ReminderInterval(ProviderRow):
    """How often something is to be done: a setting, because places differ."""

    what = models.CharField(max_length=12, choices=Reminder)
    days = models.PositiveSmallIntegerField(default=30)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "what"], name="reminder_interval_once"),
            models.CheckConstraint(condition=models.Q(what__in=Reminder.values), name="reminder_known"),
            models.CheckConstraint(condition=models.Q(days__gte=1), name="reminder_days_positive"),
        ]

    def __str__(self) -> str:
        return self.get_what_display()


class CapacitySetting(ProviderRow):
    """Which capacity rule holds from `start`, the licence's own lower number, and how many adults are there.

    `custom` holds the owner's own rule when `rule` is "custom".
    """

    rule = models.CharField(max_length=40)
    licence_limit = models.PositiveSmallIntegerField(null=True, blank=True)
    adults = models.PositiveSmallIntegerField(default=1)
    custom = models.JSONField(default=dict, blank=True)
    start = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "start"], name="capacity_setting_one_start")]

    def __str__(self) -> str:
        return self.rule


class CalendarFeed(ProviderRow):
    """A secret address under which calendars may read closures, theme months and due tasks."""

    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.name
