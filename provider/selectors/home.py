"""The home as the settings show it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet

from provider.models import AuditEntry, Closure, Membership, OpeningHours, Provider, Room, RoomUse
from provider.models.base import holds_on


@dataclass(frozen=True, slots=True)
class RoomCard:
    """A room with its use today (the first one when it lies ahead) and the uses to come."""

    room: Room
    use: RoomUse | None
    later: tuple[RoomUse, ...]


@dataclass(frozen=True, slots=True)
class RoomList:
    rooms: tuple[RoomCard, ...]
    total: Decimal
    rest: Decimal


def room_list(provider: Provider, today: date) -> RoomList:
    """The rooms by name, their area together and what is left of the home. Two queries."""
    uses: dict[int, list[RoomUse]] = {}
    for use in RoomUse.objects.filter(provider=provider).order_by("start"):
        uses.setdefault(use.room_id, []).append(use)
    cards = []
    for room in Room.objects.filter(provider=provider).order_by("name"):
        of_room = uses.get(room.pk, [])
        now = next((use for use in reversed(of_room) if use.start <= today), of_room[0] if of_room else None)
        cards.append(RoomCard(room, now, tuple(use for use in of_room if now and use.start > max(today, now.start))))
    total = sum((card.room.area for card in cards), Decimal(0))
    return RoomList(tuple(cards), total, provider.home_area - total)


def opening_on(provider: Provider, day: date) -> list[OpeningHours]:
    """The week's opening hours in force on `day`. One query."""
    return list(OpeningHours.objects.filter(holds_on(day), provider=provider).order_by("weekday"))


def opening_changes(provider: Provider, today: date) -> list[date]:
    """Coming days from which other hours hold. One query."""
    starts = OpeningHours.objects.filter(provider=provider, start__gt=today).order_by("start")
    return list(starts.values_list("start", flat=True).distinct())


def closures(provider: Provider) -> QuerySet[Closure]:
    """Closures that were not voided, latest first."""
    return Closure.objects.filter(provider=provider, voided_at__isnull=True).order_by("-start")


def coming_closures(provider: Provider, today: date, count: int = 3) -> list[Closure]:
    """The next closures, today's included, soonest first. One query."""
    return list(closures(provider).filter(end__gt=today).order_by("start")[:count])


def members(provider: Provider) -> list[Membership]:
    """People with logins, the owner first. One query."""
    return list(
        Membership.objects.filter(provider=provider).select_related("user", "household", "provider").order_by("pk")
    )


def history(provider: Provider) -> QuerySet[AuditEntry]:
    """The audit trail, latest first."""
    return AuditEntry.objects.filter(provider=provider).order_by("-at", "-pk")
