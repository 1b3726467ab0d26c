"""The home and when it is open: business details, rooms and their use, opening hours, closures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from typing import Any

from django.db.models import Q, Sum
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import set_fields
from provider.models import Attendance, Closure, OpeningHours, Provider, Room, RoomUse, Submission, User
from provider.models.base import ends_after
from provider.steps import figure

EDITABLE = frozenset(
    {
        "name",
        "region",
        "time_zone",
        "address",
        "phone",
        "email",
        "home_area",
        "opened_on",
        "closed_on",
        "hourly_value",
        "invoice_days_due",
        "invoice_note",
    }
)


class RoomsExceedHome(DomainError):
    """The rooms together are larger than the whole home."""


@dataclass(frozen=True, slots=True)
class RoomInput:
    """A room as typed; `area` in the provider's unit, `use` one of `Use`."""

    name: str
    area: Decimal
    use: str


@dataclass(frozen=True, slots=True)
class OpeningInput:
    """Open on one weekday (0 Monday) from `opens` to `closes`, local time."""

    weekday: int
    opens: time
    closes: time


def update_business(
    *, provider: Provider, actor: User | None, today: date, version: int, submission_key: str = "", **fields: Any
) -> Provider:
    """Change the business's own details. `fields` are those of `Provider` that a person may edit.

    Country, unit and slug never change: figures and addresses already given out depend on them. Raises StaleRow,
    RoomsExceedHome (field `home_area`), PeriodLocked when the area or the first day would change under a closed
    period, and DomainError (field `opened_on`) when children were here before the first day.
    """
    with writing(provider, actor) as desk:
        if earlier := _seen(desk, submission_key):
            return earlier
        row = desk.fresh(desk.provider, version)
        before = (row.home_area, row.opened_on)
        set_fields(row, fields, EDITABLE)
        if (row.home_area, row.opened_on) != before:
            desk.require_open_span(min(row.opened_on, before[1]))
        _check_rooms_fit(row.home_area, _room_areas(row), field="home_area")
        _move_first_day(row, before[1])
        desk.save(row, verb="change", summary=_("Changed the business details"))
        desk.done(submission_key, row)
        return row


def add_room(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    name: str,
    area: Decimal,
    use: str,
    start: date | None = None,
    submission_key: str = "",
) -> Room:
    """Add a room used as `use` from `start` (the first day of business when None). Raises RoomsExceedHome."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Room):
            return earlier
        start = start or desk.provider.opened_on
        desk.require_open_span(start, field="start")
        _check_rooms_fit(desk.provider.home_area, _room_areas(desk.provider) + area)
        room = insert_room(desk, RoomInput(name, area, use), start)
        desk.done(submission_key, room)
        return room


def insert_room(desk: Desk, given: RoomInput, start: date) -> Room:
    """Add a room with its use from `start` on, at the desk of another service."""
    room = desk.save(
        Room(provider=desk.provider, name=given.name, area=given.area),
        verb="add",
        summary=_("Added the room %(room)s") % {"room": given.name},
    )
    desk.save(RoomUse(provider=desk.provider, room=room, use=given.use, start=start))
    return room


def change_room(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    room: Room,
    version: int,
    name: str,
    area: Decimal,
    submission_key: str = "",
) -> Room:
    """Correct a room's name or floor area. Refused while a period is closed, whose share was made from the area."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Room):
            return earlier
        room = desk.fresh(room, version)
        if area != room.area:
            desk.require_open_span(desk.provider.opened_on, field="area")
        _check_rooms_fit(desk.provider.home_area, _room_areas(desk.provider, without=room) + area)
        room.name, room.area = name, area
        desk.save(room, verb="change", summary=_("Changed the room %(room)s") % {"room": name})
        desk.done(submission_key, room)
        return room


def change_room_use(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    room: Room,
    use: str,
    start: date,
    submission_key: str = "",
) -> RoomUse:
    """Use a room differently from `start` on. What was said for later days is replaced."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, RoomUse):
            return earlier
        if start < desk.provider.opened_on:
            raise DomainError(_("The business was not open yet on that day."), field="start")
        desk.require_open_span(start, field="start")
        uses = RoomUse.objects.filter(provider=desk.provider, room=room)
        uses.filter(start__gte=start).delete()
        uses.filter(ends_after(start)).update(end=start)
        row = desk.save(
            RoomUse(provider=desk.provider, room=room, use=use, start=start),
            verb="change",
            summary=_("%(room)s from %(day)s: %(use)s")
            % {"room": room, "day": date_format(start), "use": RoomUse(use=use).get_use_display()},
        )
        desk.done(submission_key, row)
        return row


def set_opening_hours(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    start: date,
    opening: Iterable[OpeningInput],
    submission_key: str = "",
) -> Provider:
    """Open at these hours from `start` on, closed on weekdays not given. Hours said for later days are replaced."""
    with writing(provider, actor) as desk:
        if earlier := _seen(desk, submission_key):
            return earlier
        if start < desk.provider.opened_on:
            raise DomainError(_("The business was not open yet on that day."), field="start")
        desk.require_open_span(start, field="start")
        hours = OpeningHours.objects.filter(provider=desk.provider)
        hours.filter(start__gte=start).delete()
        hours.filter(ends_after(start)).update(end=start)
        insert_opening_hours(desk, opening, start)
        desk.audit("change", desk.provider, _("Changed the opening hours from %(day)s") % {"day": date_format(start)})
        desk.done(submission_key, desk.provider)
        return desk.provider


def insert_opening_hours(desk: Desk, opening: Iterable[OpeningInput], start: date) -> None:
    """Write a week that holds from `start` on, at the desk of another service. DomainError for an empty week."""
    opening = list(opening)
    if not opening:
        raise DomainError(_("Choose at least one weekday on which you are open."))
    for given in opening:
        desk.save(
            OpeningHours(
                provider=desk.provider, weekday=given.weekday, opens=given.opens, closes=given.closes, start=start
            )
        )


def add_closure(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    start: date,
    end: date,
    kind: str,
    paid: bool,
    reason: str,
    submission_key: str = "",
) -> Closure:
    """No care during [start, end). Raises DomainError when the days touch another closure."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Closure):
            return earlier
        closure = insert_closure(desk, start=start, end=end, kind=kind, paid=paid, reason=reason)
        desk.done(submission_key, closure)
        return closure


def insert_closure(desk: Desk, *, start: date, end: date, kind: str, paid: bool, reason: str) -> Closure:
    """The inner part of `add_closure`, for a service that closes a day and tells the families at once."""
    if end <= start:
        raise DomainError(_("The last day must not lie before the first."), field="last_day")
    desk.require_open_span(start, end, field="start")
    other = Closure.objects.filter(provider=desk.provider, voided_at__isnull=True, start__lt=end, end__gt=start).first()
    if other:
        raise DomainError(
            _("“%(reason)s” from %(day)s already closes some of these days.")
            % {"reason": other.reason, "day": date_format(other.start)},
            field="start",
        )
    return desk.save(
        Closure(provider=desk.provider, start=start, end=end, kind=kind, paid=paid, reason=reason),
        verb="add",
        summary=_("Closed from %(day)s: %(reason)s") % {"day": date_format(start), "reason": reason},
    )


def void_closure(
    *, provider: Provider, actor: User | None, today: date, closure: Closure, reason: str, submission_key: str = ""
) -> Closure:
    """Be open on those days after all."""
    with writing(provider, actor) as desk:
        closure = Closure.objects.get(pk=closure.pk, provider=desk.provider)
        if closure.voided_at:
            return closure
        desk.require_open_span(closure.start, closure.end)
        return desk.void(closure, reason=reason)


def check_new_rooms(home_area: Decimal, rooms: Iterable[RoomInput]) -> None:
    """Raise RoomsExceedHome when the rooms of a new business do not fit into its home."""
    _check_rooms_fit(home_area, sum((room.area for room in rooms), Decimal(0)), field="home_area")


def _move_first_day(provider: Provider, old: date) -> None:
    """Rooms and opening hours said from the old first day on hold from the new one on."""
    new = provider.opened_on
    if new == old:
        return
    if Attendance.objects.filter(provider=provider, voided_at__isnull=True, absence="", day__lt=new).exists():
        raise DomainError(_("Children were here before that day."), field="opened_on")
    for model in (RoomUse, OpeningHours):
        rows = model._default_manager.filter(provider=provider)
        rows.filter(end__lte=new).delete()
        rows.filter(Q(start=old) | Q(start__lt=new)).update(start=new)


def _check_rooms_fit(home_area: Decimal, together: Decimal, *, field: str = "area") -> None:
    if together > home_area:
        raise RoomsExceedHome(
            _("The rooms together are %(rooms)s, larger than the whole home (%(home)s). Correct one or the other.")
            % {"rooms": figure(together), "home": figure(home_area)},
            field=field,
        )


def _room_areas(provider: Provider, *, without: Room | None = None) -> Decimal:
    rooms = Room.objects.filter(provider=provider)
    if without is not None:
        rooms = rooms.exclude(pk=without.pk)
    return rooms.aggregate(total=Sum("area"))["total"] or Decimal(0)


def _seen(desk: Desk, key: str) -> Provider | None:
    """Like `desk.once`, for acts whose result is the business itself."""
    seen = bool(key) and Submission.objects.filter(provider=desk.provider, key=key).exists()
    return desk.provider if seen else None
