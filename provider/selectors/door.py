"""What the door page shows: the tablet itself, and the children of the one guardian who stands before it."""

from dataclasses import dataclass
from datetime import date, datetime

from provider.models import Attendance, Child, Closure, DoorDevice, Enrolment, Guardian, PatternDay, Provider
from provider.models.base import holds_on
from provider.periods import WeekPattern, WeekSlot
from provider.selectors.attendance import minutes_late
from provider.selectors.stays import still_here
from provider.services.door import hash_token


def device_by_token(slug: str, token: str) -> DoorDevice | None:
    """The tablet that holds this token, unless it was revoked. One query."""
    if not token:
        return None
    devices = DoorDevice.objects.select_related("provider").filter(provider__slug=slug, revoked_at__isnull=True)
    return devices.filter(token_hash=hash_token(token)).first()


def devices(provider: Provider) -> list[DoorDevice]:
    """The tablets that may show the door page or wait for their link to be opened, by name."""
    return list(DoorDevice.objects.filter(provider=provider, revoked_at__isnull=True).order_by("name", "pk"))


@dataclass(frozen=True, slots=True)
class DoorChild:
    """A child as its own guardian sees it at the door. `state` is here, away, gone or forgotten (since another day)."""

    child: Child
    state: str
    stay: Attendance | None
    late: int


def children_at_door(guardian: Guardian, today: date, now: datetime) -> list[DoorChild]:
    """The household's children who have a place today or are here. Six queries at most."""
    provider = guardian.provider
    in_force = holds_on(today)
    children = Child.objects.filter(provider=provider, household=guardian.household_id)
    enrolments = {each.child_id: each for each in Enrolment.objects.filter(in_force, child__in=children)}
    came = Attendance.objects.filter(day=today, child__in=children, arrived_at__isnull=False, voided_at__isnull=True)
    # Who is here goes before who has left, also when here since another day.
    stays = {stay.child_id: stay for stay in came.order_by("arrived_at")}
    stays |= {stay.child_id: stay for stay in still_here(provider).filter(child__in=children)}
    slots: dict[int, list[WeekSlot]] = {}
    for day in PatternDay.objects.filter(in_force, enrolment__in=enrolments.values(), weekday=today.weekday()):
        slots.setdefault(day.enrolment_id, []).append(day.slot)
    closed = Closure.objects.filter(provider=provider, voided_at__isnull=True, start__lte=today, end__gt=today).exists()
    shown = []
    for child in children.order_by("birth_date", "pk"):
        stay_of_child, place = stays.get(child.pk), enrolments.get(child.pk)
        if place is None and stay_of_child is None:
            continue
        planned = WeekPattern(tuple(slots.get(place.pk, ()))).on(today) if place and not closed else ()
        late = 0 if stay_of_child else minutes_late(planned, today, now, provider.zone)
        shown.append(DoorChild(child, _state(stay_of_child, today), stay_of_child, late))
    return shown


def _state(stay: Attendance | None, today: date) -> str:
    if stay is None:
        return "away"
    if stay.left_at:
        return "gone"
    return "here" if stay.day == today else "forgotten"
