"""Where and when: the home's rooms and how they are used, opening hours, closures."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import ScaledField
from provider.models.base import ProviderRow, Weekday, ends_after_start
from provider.periods import WeekSlot


class Room(ProviderRow):
    """A room of the home with its floor area in the provider's unit."""

    name = models.CharField(max_length=80)
    area = ScaledField(places=2)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "name"], name="room_name_once"),
            models.CheckConstraint(condition=models.Q(area__gt=Decimal(0)), name="room_area_positive"),
        ]

    def __str__(self) -> str:
        return self.name


class Use(models.TextChoices):
    EXCLUSIVE = "exclusive", _("Only for the business")
    REGULAR = "regular", _("Used for care every business day, and by the household")
    OCCASIONAL = "occasional", _("Used for care now and then")
    NONE = "none", _("Not used for care")


class RoomUse(ProviderRow):
    """How a room is used during [start, end)."""

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="uses")
    use = models.CharField(max_length=10, choices=Use)
    start = models.DateField()
    end = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["room", "start"], name="room_use_one_start"),
            models.CheckConstraint(condition=models.Q(use__in=Use.values), name="room_use_known"),
            ends_after_start(name="room_use_span"),
        ]

    def __str__(self) -> str:
        return f"{self.room}: {self.get_use_display()}"


class OpeningHours(ProviderRow):
    """Open on one weekday from `opens` to `closes`, local time, during [start, end)."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    opens = models.TimeField()
    closes = models.TimeField()
    start = models.DateField()
    end = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "weekday", "start"], name="opening_hours_one_start"),
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="opening_hours_weekday"),
            models.CheckConstraint(condition=models.Q(closes__gt=models.F("opens")), name="opening_hours_order"),
            ends_after_start(name="opening_hours_span"),
        ]

    @property
    def slot(self) -> WeekSlot:
        """The row as calculators know it."""
        return WeekSlot(self.weekday, self.opens, self.closes)

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}-{self.closes:%H:%M}"


class ClosureKind(models.TextChoices):
    HOLIDAY = "holiday", _("Public holiday")
    TIME_OFF = "time_off", _("Provider's time off")
    ILLNESS = "illness", _("Provider ill")
    WEATHER = "weather", _("Weather")
    OTHER = "other", _("Other")


class Closure(ProviderRow):
    """No care during [start, end). A paid closure does not reduce tuition."""

    start = models.DateField()
    end = models.DateField()
    kind = models.CharField(max_length=10, choices=ClosureKind)
    paid = models.BooleanField(default=True)
    reason = models.CharField(max_length=120)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=ClosureKind.values), name="closure_kind_known"),
            ends_after_start(name="closure_span"),
        ]

    def __str__(self) -> str:
        return self.reason
