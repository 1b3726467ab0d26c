"""Around the child: whom to call, who may collect, what the child needs; and who waits for a place."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.models.base import ProviderRow, ends_after_start
from provider.models.families import Child, Guardian


class EmergencyContact(ProviderRow):
    """Somebody to call for a child when no guardian answers, in `position` order."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="emergency_contacts")
    name = models.CharField(max_length=120)
    relation = models.CharField(max_length=60, blank=True)
    phone = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField(default=0)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.name


class Collector(ProviderRow):
    """Somebody beside the guardians to whom the child may be handed over during [start, end)."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="collectors")
    name = models.CharField(max_length=120)
    relation = models.CharField(max_length=60, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [ends_after_start(name="collector_span")]

    def __str__(self) -> str:
        return self.name


class CareNeedKind(models.TextChoices):
    ALLERGY = "allergy", _("Allergy")
    DIET = "diet", _("Diet")
    MEDICAL = "medical", _("Medical condition")
    OTHER = "other", _("Other")


class CareNeed(ProviderRow):
    """What a child must avoid or have, and what to do. `posted` puts it on the list in the kitchen."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="care_needs")
    kind = models.CharField(max_length=8, choices=CareNeedKind)
    what = models.CharField(max_length=200)
    action = models.TextField(blank=True, help_text=_("What to do, in the order to do it"))
    posted = models.BooleanField(default=True)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=CareNeedKind.values), name="care_need_kind_known"),
            ends_after_start(name="care_need_span"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class WaitStatus(models.TextChoices):
    WAITING = "waiting", _("Waiting")
    OFFERED = "offered", _("Offered a place")
    ENROLLED = "enrolled", _("Enrolled")
    WITHDRAWN = "withdrawn", _("Withdrawn")


class WaitingChild(ProviderRow):
    """A family that would like a place. `weekdays` is the wanted days as digits, Monday 0.

    `child` is who it became once enrolled, so that an erase request finds the wish too.
    """

    child_name = models.CharField(max_length=120)
    birth_date = models.DateField(null=True, blank=True)
    contact_name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    asked_on = models.DateField()
    wanted_start = models.DateField()
    weekdays = models.CharField(max_length=7, default="01234")
    arrives = models.TimeField()
    leaves = models.TimeField()
    status = models.CharField(max_length=10, choices=WaitStatus, default=WaitStatus.WAITING)
    note = models.CharField(max_length=300, blank=True)
    child = models.ForeignKey(
        Child, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="wishes"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(status__in=WaitStatus.values), name="waiting_status_known"),
            models.CheckConstraint(condition=models.Q(leaves__gt=models.F("arrives")), name="waiting_hours_order"),
        ]

    def __str__(self) -> str:
        return self.child_name


class DoorDevice(ProviderRow):
    """A shared tablet that may show the door page and nothing else.

    Its token is kept only as a SHA-256 hash; there is none until the link was opened on the tablet.
    """

    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True, null=True, blank=True, editable=False)
    last_seen_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)

    def __str__(self) -> str:
        return self.name


class DoorPin(ProviderRow):
    """A guardian's PIN at the door, kept only as a keyed hash by which its owner is found."""

    guardian = models.OneToOneField(Guardian, on_delete=models.PROTECT, related_name="door_pin")
    pin_hash = models.CharField(max_length=64, editable=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "pin_hash"], name="door_pin_once")]

    def __str__(self) -> str:
        return str(self.guardian)


class PinTry(models.Model):
    """A wrong PIN at a device, or a try to sign for a `child` of others, counted to slow guessing down."""

    device = models.ForeignKey(DoorDevice, on_delete=models.CASCADE, related_name="tries")
    child = models.ForeignKey(Child, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["device", "at"], name="pin_try_by_device")]

    def __str__(self) -> str:
        return f"{self.device} {self.at}"
