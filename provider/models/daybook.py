"""What happened on a day: who was here, and the hours worked around it."""

from django.conf import settings
from django.db import models
from django.utils.timezone import localtime
from django.utils.translation import gettext_lazy as _

from provider.models.base import ProviderRow
from provider.models.families import Child


class Attendance(ProviderRow):
    """One stay of a child, or an absence, on a local day. Instants are aware; a stay may end after midnight."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="attendance")
    day = models.DateField()
    arrived_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    absence = models.CharField(max_length=80, blank=True, help_text=_("Reason, when the child did not come"))
    note = models.CharField(max_length=200, blank=True)
    brought_by = models.CharField(max_length=120, blank=True, help_text=_("Who signed the child in"))
    collected_by = models.CharField(max_length=120, blank=True, help_text=_("Who took the child home"))
    signed_at_door = models.BooleanField(default=False, editable=False)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [
            models.Index(fields=["provider", "day"], name="attendance_by_day"),
            models.Index(fields=["child", "day"], name="attendance_by_child"),
            models.Index(
                fields=["provider", "child"],
                condition=models.Q(arrived_at__isnull=False, left_at__isnull=True, voided_at__isnull=True),
                name="attendance_here",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["child", "arrived_at"],
                condition=models.Q(voided_at__isnull=True),
                name="attendance_one_arrival",
            ),
            models.CheckConstraint(
                condition=models.Q(arrived_at__isnull=False, absence="")
                | (models.Q(arrived_at__isnull=True, left_at__isnull=True) & ~models.Q(absence="")),
                name="attendance_here_or_absent",
            ),
            models.CheckConstraint(
                condition=models.Q(left_at__isnull=True) | models.Q(left_at__gt=models.F("arrived_at")),
                name="attendance_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.child}, {self.day}"


class WorkKind(models.TextChoices):
    PREPARE = "prepare", _("Preparing activities")
    CLEAN = "clean", _("Cleaning")
    COOK = "cook", _("Cooking")
    PLAN = "plan", _("Planning")
    RECORDS = "records", _("Record keeping")
    SHOP = "shop", _("Shopping")
    TRAINING = "training", _("Training")


class WorkEntry(ProviderRow):
    """Work while no child is present. Only entries `at_home` enter the time share of the home."""

    kind = models.CharField(max_length=10, choices=WorkKind)
    at_home = models.BooleanField(default=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    person = models.CharField(max_length=120, blank=True, help_text=_("Who worked, when not the owner"))
    note = models.CharField(max_length=200, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "started_at"], name="work_by_start")]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=WorkKind.values), name="work_kind_known"),
            models.CheckConstraint(condition=models.Q(ended_at__gt=models.F("started_at")), name="work_order"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {localtime(self.started_at):%Y-%m-%d}"


class WorkTimer(ProviderRow):
    """A running timer of one user: it lives in the database, so that a locked phone loses nothing."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=WorkKind)
    at_home = models.BooleanField(default=True)
    started_at = models.DateTimeField()
    run_public_id = models.CharField(max_length=16, blank=True, help_text=_("The theme run it is for, if any"))
    centre_public_id = models.CharField(max_length=16, blank=True, help_text=_("The learning centre, if any"))

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "user"], name="work_timer_one_per_user"),
            models.CheckConstraint(condition=models.Q(kind__in=WorkKind.values), name="work_timer_kind_known"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
