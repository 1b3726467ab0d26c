"""A stay begun or ended at the desk of another service: by the owner on her pages, by a guardian at the door.

Whatever writes attendance checks it here.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.utils.formats import date_format, time_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.desk import Desk
from provider.errors import DomainError
from provider.guards import require_past, require_past_day
from provider.hours import to_minute
from provider.models import Attendance, Child, Provider
from provider.selectors.stays import LONGEST_STAY, open_stay, still_here

ONE_MINUTE = timedelta(minutes=1)
CAME_AFTER_ALL = "came after all"


class AttendanceOverlap(DomainError):
    """The child is already recorded as here during some of this time."""


class NotHere(DomainError):
    """The child is not signed in."""


class LongStay(DomainError):
    """A stay of more than 24 hours is asked about once; `confirmed` answers."""


def insert_stay(
    desk: Desk,
    *,
    today: date,
    now: datetime,
    child: Child,
    day: date,
    arrived_at: datetime,
    left_at: datetime | None = None,
    note: str = "",
    brought_by: str = "",
    collected_by: str = "",
    at_door: bool = False,
    confirmed: bool = False,
) -> Attendance:
    """Begin (and with `left_at` end) a stay; an absence said before for that day is taken out.

    Raises PeriodLocked, what `check_times` and `check_against` raise, and DomainError for a day that has not come.
    """
    desk.require_open(day, field="day")
    row = Attendance(
        provider=desk.provider,
        child=child,
        day=day,
        arrived_at=to_minute(arrived_at),
        left_at=left_at and to_minute(left_at),
        note=note,
        brought_by=brought_by.strip(),
        collected_by=collected_by.strip(),
        signed_at_door=at_door,
    )
    require_past_day(day, today, field="day")
    check_times(row, now, confirmed=confirmed)
    known = records_around(desk.provider, [child], day)
    for absent in [other for other in known if other.absence and other.day == day]:
        desk.void(absent, reason=_("Came after all"), verb=CAME_AFTER_ALL)
        known.remove(absent)
    check_against(row, known)
    return desk.save(
        row,
        verb="sign in",
        summary=_("%(child)s arrived at %(time)s on %(day)s")
        % {"child": child, "time": _clock(row.arrived_at, desk.provider), "day": date_format(day)},
    )


def end_stay(
    desk: Desk,
    *,
    now: datetime,
    child: Child,
    at: datetime,
    collected_by: str = "",
    note: str = "",
    at_door: bool = False,
) -> Attendance:
    """End the stay of a child who is here. Raises NotHere, PeriodLocked, and what `check_times` raises."""
    row = open_stay(desk.provider, child)
    if row is None:
        raise NotHere(_("%(child)s is not signed in.") % {"child": child})
    desk.require_open(row.day)
    left_at = to_minute(at)
    # Signed in and out within one minute: the shortest stay that can be kept.
    row.left_at = left_at + ONE_MINUTE if left_at == row.arrived_at else left_at
    row.collected_by = collected_by
    row.note = "; ".join(filter(None, (row.note, note)))
    row.signed_at_door = row.signed_at_door or at_door
    check_times(row, now, confirmed=False)
    return desk.save(
        row,
        verb="sign out",
        summary=_("Signed out %(child)s at %(time)s")
        % {"child": row.child, "time": _clock(row.left_at, desk.provider)},
    )


def check_times(row: Attendance, now: datetime, *, confirmed: bool) -> None:
    """Raise DomainError for times that cannot be, and LongStay for over a day unless `confirmed`."""
    if row.arrived_at is None:
        if row.left_at is not None or not row.absence:
            raise DomainError(_("Give the time of arrival."), field="arrived_at")
        return
    zone = row.provider.zone
    for name in ("arrived_at", "left_at"):
        require_past(getattr(row, name), now, field=name)
    if row.arrived_at.astimezone(zone).date() != row.day:
        raise DomainError(_("The arrival must lie on the day itself."), field="arrived_at")
    if row.left_at is not None and row.left_at <= row.arrived_at:
        raise DomainError(_("The child cannot leave before it arrives."), field="left_at")
    if row.left_at is None and now - row.arrived_at > LONGEST_STAY:
        raise DomainError(_("That was more than a day ago. Say when the child left."), field="left_at")
    if row.left_at is not None and row.left_at - row.arrived_at > LONGEST_STAY and not confirmed:
        raise LongStay(
            _("That would be a stay of more than 24 hours. Correct the times, or confirm that it was so."),
            field="left_at",
        )


def check_against(row: Attendance, known: Iterable[Attendance]) -> None:
    """Stays of a child do not overlap, and a day has stays or one absence. Raises AttendanceOverlap."""
    for other in known:
        is_itself = row.pk is not None and other.pk == row.pk
        if is_itself or other.child_id != row.child_id:
            continue
        if (row.absence or other.absence) and row.day == other.day:
            if other.absence:
                raise AttendanceOverlap(_("%(child)s is recorded as absent on that day.") % {"child": row.child})
            raise AttendanceOverlap(_("%(child)s was here on that day.") % {"child": row.child})
        if row.arrived_at is None or other.arrived_at is None:
            continue
        starts_inside = other.left_at is None or row.arrived_at < other.left_at
        ends_inside = row.left_at is None or row.left_at > other.arrived_at
        if starts_inside and ends_inside:
            raise AttendanceOverlap(
                _("%(child)s is already recorded as here from %(time)s on %(day)s.")
                % {
                    "child": row.child,
                    "time": _clock(other.arrived_at, row.provider),
                    "day": date_format(other.day),
                },
                field="arrived_at",
            )


def records_around(provider: Provider, children: list[Child], day: date) -> list[Attendance]:
    """Records that could meet one of `day`: those of the days around it, and of whoever is still here."""
    around = (day - timedelta(days=2), day + timedelta(days=2))
    near = Attendance.objects.filter(child__in=children, day__range=around, voided_at__isnull=True)
    since_before = still_here(provider).filter(child__in=children).exclude(day__range=around)
    return [*near.select_related("child", "provider"), *since_before]


def _clock(at: datetime | None, provider: Provider) -> str:
    return time_format(localtime(at, provider.zone))
