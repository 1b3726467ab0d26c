"""The limit on the children present, over what is planned and what was recorded: a warning, never a permission.

The provider's own children live in the home. On a day for which nothing else is known of one, it is taken to be there
as its place says, and without a place through all opening hours.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import groupby, pairwise

from django.utils.translation import gettext as _

from provider import capacity
from provider.capacity import CapacityRule, Excess, Headcount, Limit, Stay, UnknownCapacityRule, planned_stays
from provider.hours import Interval
from provider.models import Attendance, CapacitySetting, Child, Closure, Enrolment, OpeningHours, PatternDay, Provider
from provider.models.base import meets
from provider.periods import ONE_DAY, DateSpan, WeekPattern, WeekSlot
from provider.services.attendance import LONGEST_STAY
from provider.services.capacity import CUSTOM
from provider.templatetags.capacity import months_of_age

NEWCOMER = "newcomer"
SLOT = 30  # minutes
ONE_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class RuleInForce:
    """The rule of a day with the licence's own number in it, and the adults who are there."""

    rule: CapacityRule
    adults: int


@dataclass(frozen=True, slots=True)
class Settings:
    """What the owner chose, in order of time."""

    rows: tuple[CapacitySetting, ...]

    def setting_on(self, day: date) -> CapacitySetting | None:
        return next((row for row in reversed(self.rows) if row.start <= day), None)

    def on(self, day: date) -> RuleInForce | None:
        """None before the first choice, and on a day for which the files have no rule of this code."""
        row = self.setting_on(day)
        found = row and rule_of(row, day)
        return RuleInForce(found, row.adults) if row and found else None


def capacity_settings(provider: Provider) -> Settings:
    """One query."""
    return Settings(tuple(CapacitySetting.objects.filter(provider=provider).order_by("start")))


def rule_of(setting: CapacitySetting, day: date) -> CapacityRule | None:
    """The chosen rule as of a day, under the licence's own number; None when no file has it any more."""
    if setting.rule == CUSTOM:
        found = _custom(setting)
    else:
        try:
            found = capacity.rule(setting.rule, day)
        except UnknownCapacityRule:
            return None
    return found if setting.licence_limit is None else found.limited_to(setting.licence_limit)


def _custom(setting: CapacitySetting) -> CapacityRule:
    given = setting.custom
    limits = [
        Limit(
            _("children under %(age)s") % {"age": months_of_age(each["under_months"])},
            each["most"],
            under_months=each["under_months"],
        )
        for each in given["limits"]
    ]
    return capacity.custom_rule(
        given["most"],
        effective=DateSpan(setting.start),
        limits=limits,
        own_under_months=given["own_under_months"],
    )


@dataclass(frozen=True, slots=True)
class PlannedPlace:
    """A child with the days on which it has a place, and its usual weeks with the days on which each slot holds."""

    pk: int
    child: capacity.Child
    span: DateSpan
    slots: tuple[tuple[DateSpan, WeekSlot], ...]

    def on(self, day: date) -> tuple[WeekSlot, ...]:
        return _pattern(self.slots, day).on(day) if day in self.span else ()


@dataclass(frozen=True, slots=True)
class Plan:
    """What is planned for a span: places, closures, opening hours, and the rules that hold."""

    zone: tzinfo
    settings: Settings
    places: tuple[PlannedPlace, ...]
    own_children: tuple[capacity.Child, ...]
    closed: frozenset[date]
    opening: tuple[tuple[DateSpan, WeekSlot], ...]

    def open_on(self, day: date) -> tuple[WeekSlot, ...]:
        return () if day in self.closed else _pattern(self.opening, day).on(day)

    def stays_on(self, day: date, *, without: capacity.Child | None = None) -> list[Stay]:
        """The planned stays of a day, none on a closed one, `without` a child whose week is in question."""
        stays = [*self._placed(day), *self.at_home(day)]
        return [stay for stay in stays if without is None or stay.child.key != without.key]

    def stays_of(self, child: capacity.Child, slots: Iterable[WeekSlot], day: date) -> list[Stay]:
        return planned_stays(child, WeekPattern(tuple(slots)), DateSpan.day(day), self.zone, self.closed)

    def at_home(self, day: date) -> list[Stay]:
        """The provider's own children without a place on the day, through the opening hours."""
        placed = {place.child.key for place in self.places if day in place.span}
        return [
            stay
            for child in self.own_children
            if child.key not in placed
            for stay in self.stays_of(child, self.open_on(day), day)
        ]

    def _placed(self, day: date) -> Iterator[Stay]:
        for place in self.places:
            yield from self.stays_of(place.child, place.on(day), day)


def load_plan(provider: Provider, span: DateSpan) -> Plan:
    """Everything that is planned for a closed span. Six queries, whatever its length."""
    holds = meets(span)
    slots: dict[int, list[tuple[DateSpan, WeekSlot]]] = defaultdict(list)
    for row in PatternDay.objects.filter(holds, provider=provider):
        slots[row.enrolment_id].append((DateSpan(row.start, row.end), row.slot))
    closures = Closure.objects.filter(holds, provider=provider, voided_at__isnull=True)
    opening = OpeningHours.objects.filter(holds, provider=provider)
    return Plan(
        provider.zone,
        capacity_settings(provider),
        tuple(
            PlannedPlace(each.pk, counted(each.child), DateSpan(each.start, each.end), tuple(slots[each.pk]))
            for each in Enrolment.objects.filter(holds, provider=provider).select_related("child")
        ),
        tuple(counted(child) for child in Child.objects.filter(provider=provider, is_own_child=True)),
        frozenset(
            day
            for start, end in closures.values_list("start", "end")
            if (inside := DateSpan(start, end).intersect(span))
            for day in inside.iter_days()
        ),
        tuple((DateSpan(row.start, row.end), row.slot) for row in opening),
    )


def counted(child: Child) -> capacity.Child:
    """What a rule asks of a child; whether it goes to school is not recorded, so its age decides."""
    return capacity.Child(child.pk, child.birth_date, child.is_own_child, child.household_id)


def _pattern(slots: Iterable[tuple[DateSpan, WeekSlot]], day: date) -> WeekPattern:
    return WeekPattern(tuple(slot for span, slot in slots if day in span))


# Over one day


@dataclass(frozen=True, slots=True)
class Level:
    """The same children there from `start` up to `end`, local times."""

    start: datetime
    end: datetime
    headcount: Headcount

    @property
    def children(self) -> int:
        return len(self.headcount.counted)


@dataclass(frozen=True, slots=True)
class DayNumbers:
    """How many children who count are there over a day, and the limit on their number (None: the rule names none)."""

    levels: tuple[Level, ...]
    limit: int | None

    @property
    def over(self) -> list[Level]:
        return [level for level in self.levels if level.headcount.excess]


def numbers_over_day(in_force: RuleInForce, stays: Sequence[Stay], zone: tzinfo) -> DayNumbers:
    """The stays of one local day under the rule in force on it."""
    spans = [(stay.child, stay.start.astimezone(UTC), stay.end.astimezone(UTC)) for stay in stays]
    levels: list[Level] = []
    for start, end in pairwise(sorted({edge for _child, *edges in spans for edge in edges})):
        present = {child for child, arrives, leaves in spans if arrives <= start < leaves}
        local = start.astimezone(zone)
        headcount = capacity.assess(in_force.rule, present, local.date(), in_force.adults)
        if not headcount.counted:
            continue
        if levels and (levels[-1].end, levels[-1].headcount) == (local, headcount):
            levels[-1] = replace(levels[-1], end=end.astimezone(zone))
        else:
            levels.append(Level(local, end.astimezone(zone), headcount))
    return DayNumbers(tuple(levels), in_force.rule.most)


def recorded_stays(provider: Provider, plan: Plan, day: date, now: datetime) -> list[Stay]:
    """Who was there on a local day up to `now`, by the sign-in sheet, also whoever stayed over midnight. One query.

    Of the provider's own children those are taken as planned of whom nothing is recorded on the day.
    """
    zone = plan.zone
    bounds = (datetime.combine(day, time.min, zone).astimezone(UTC), _midnight(day + ONE_DAY, zone))
    records = list(
        Attendance.objects.filter(
            provider=provider, voided_at__isnull=True, day__gte=day - ONE_DAY, day__lte=day
        ).select_related("child")
    )
    found = []
    for record in records:
        if record.arrived_at:
            # A tap of this very minute counts as one.
            latest = min(max(now, record.arrived_at + ONE_MINUTE), record.arrived_at + LONGEST_STAY)
            found.append((counted(record.child), record.arrived_at, record.left_at or latest))
    known = {record.child_id for record in records if record.day == day}
    found += [
        (stay.child, stay.start.astimezone(UTC), min(stay.end.astimezone(UTC), now.astimezone(UTC)))
        for stay in plan.stays_on(day)
        if stay.child.is_own and stay.child.key not in known
    ]
    return [
        Stay(child, *inside) for child, *edges in found if (inside := _clip((edges[0], edges[1]), bounds)) is not None
    ]


def _midnight(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def _clip(interval: Interval, bounds: Interval) -> Interval | None:
    start, end = max(interval[0], bounds[0]), min(interval[1], bounds[1])
    return (start, end) if start < end else None


# Over a year


@dataclass(frozen=True, slots=True)
class Wanted:
    """A usual week from `start` on, for somebody who has no place yet or, with `child`, for one who has.

    `household` is the family of a brother or sister.
    """

    birth_date: date
    start: date
    slots: tuple[WeekSlot, ...]
    household: int | None = None
    child: capacity.Child | None = None

    @property
    def who(self) -> capacity.Child:
        return self.child or capacity.Child(NEWCOMER, self.birth_date, family=self.household)


@dataclass(frozen=True, slots=True)
class Clash:
    """The limit passed in one way at one time of a weekday, on `days`; `start` and `end` are minutes of the day."""

    weekday: int
    start: int
    end: int
    excess: tuple[Excess, ...]
    days: tuple[date, ...]


@dataclass(frozen=True, slots=True)
class RoomCell:
    """Half an hour of a weekday: on `over` of the `days` on which the house is open one more would pass the limit.

    `opens` and `closes` are the part of it in which the house is open; all three are minutes of the day.
    """

    start: int
    opens: int = 0
    closes: int = 0
    days: int = 0
    over: int = 0

    @property
    def state(self) -> str:
        """One of closed, room, some, full."""
        if not self.days:
            return "closed"
        return "some" if 0 < self.over < self.days else "full" if self.over else "room"


@dataclass(frozen=True, slots=True)
class RoomDay:
    """`room`, `some` and `full` are neighbouring half hours of one state, joined, in minutes of the day."""

    weekday: int
    cells: tuple[RoomCell, ...]

    @property
    def room(self) -> list[tuple[int, int]]:
        return self._ranges("room")

    @property
    def some(self) -> list[tuple[int, int]]:
        return self._ranges("some")

    @property
    def full(self) -> list[tuple[int, int]]:
        return self._ranges("full")

    def _ranges(self, state: str) -> list[tuple[int, int]]:
        found = []
        for same, group in groupby(self.cells, lambda cell: cell.state):
            cells = list(group)
            if same == state:
                found.append((cells[0].opens, cells[-1].closes))
        return found


@dataclass(frozen=True, slots=True)
class Forecast:
    """A wanted week over the coming year.

    `clashes` is what it would bring or make worse, on `over` of its `wanted` days; `fits_from` the first wanted day
    after the last clash, None when there is none. `already` is where the plan passes the limit without it. `unruled`
    counts days for which no rule is known.
    """

    span: DateSpan
    wanted: int
    over: int
    fits_from: date | None
    clashes: tuple[Clash, ...]
    already: tuple[Clash, ...]
    week: tuple[RoomDay, ...]
    unruled: int


def year_from(day: date) -> DateSpan:
    """Twelve months; those of a 29 February end with the day before 1 March."""
    try:
        return DateSpan(day, day.replace(year=day.year + 1))
    except ValueError:
        return DateSpan(day, date(day.year + 1, 3, 1))


def forecast(provider: Provider, wanted: Wanted) -> Forecast:
    """Whether a week fits into the twelve months from its start, and where there is room for this child at all."""
    span = year_from(wanted.start)
    plan = load_plan(provider, span)
    brought, already, room = _Clashes(), _Clashes(), _Room()
    wanted_days, unruled = [], 0
    for day in span.iter_days():
        opening = plan.open_on(day)
        asked = plan.stays_of(wanted.who, WeekPattern(wanted.slots).on(day), day)
        if not opening and not asked:
            continue
        in_force = plan.settings.on(day)
        if in_force is None:
            unruled += 1
            continue
        planned = plan.stays_on(day, without=wanted.child)
        for breach in capacity.evaluate(in_force.rule, planned, plan.zone, in_force.adults).breaches:
            already.add(day, breach)
        everywhere = [*plan.stays_of(wanted.who, opening, day), *asked]
        wanted_days += [day] if asked else []
        breaches = capacity.would_exceed(in_force.rule, planned, everywhere, plan.zone, in_force.adults)
        room.add(day, opening, breaches)
        for stay in asked:
            for breach in breaches:
                if inside := _clip((breach.start, breach.end), (stay.start, stay.end)):
                    brought.add(day, replace(breach, start=inside[0], end=inside[1]))
    last = max(brought.days, default=None)
    return Forecast(
        span,
        len(wanted_days),
        len(brought.days),
        next((day for day in wanted_days if last is None or day > last), None),
        brought.clashes,
        already.clashes,
        room.week,
        unruled,
    )


def clashes_of_child(provider: Provider, child: Child, start: date) -> tuple[Clash, ...]:
    """Where the places of a child bring the house over the limit in twelve months. Six queries."""
    span = year_from(start)
    plan = load_plan(provider, span)
    who, found = counted(child), _Clashes()
    places = [place for place in plan.places if place.child == who]
    for day in span.iter_days():
        in_force = plan.settings.on(day)
        stays = [stay for place in places for stay in plan.stays_of(who, place.on(day), day)]
        if in_force and stays:
            others = plan.stays_on(day, without=who)
            for breach in capacity.would_exceed(in_force.rule, others, stays, plan.zone, in_force.adults):
                found.add(day, breach)
    return found.clashes


class _Clashes:
    """Breaches of many days gathered by weekday, time and what is passed."""

    def __init__(self) -> None:
        self.days: set[date] = set()
        self._found: dict[tuple[int, int, int, tuple[Excess, ...]], list[date]] = defaultdict(list)

    def add(self, day: date, breach: capacity.Breach) -> None:
        self.days.add(day)
        times = (_minute(breach.start, day), _minute(breach.end, day))
        self._found[day.weekday(), *times, breach.headcount.excess].append(day)

    @property
    def clashes(self) -> tuple[Clash, ...]:
        found = [Clash(*key, tuple(days)) for key, days in self._found.items()]
        return tuple(sorted(found, key=lambda clash: (clash.weekday, clash.days[0], clash.start)))


class _Room:
    """Open days, and those on which one more would pass the limit, by weekday and half hour."""

    def __init__(self) -> None:
        self._cells: dict[int, dict[int, RoomCell]] = defaultdict(dict)

    def add(self, day: date, opening: Iterable[WeekSlot], breaches: Iterable[capacity.Breach]) -> None:
        times = [(_minute(breach.start, day), _minute(breach.end, day)) for breach in breaches]
        cells = self._cells[day.weekday()]
        for slot in opening:
            first, last = (each.hour * 60 + each.minute for each in (slot.start, slot.end))
            for minute in range(first - first % SLOT, last, SLOT):
                opens, closes = max(minute, first), min(minute + SLOT, last)
                over = any(start < closes and opens < end for start, end in times)
                old = cells.get(minute, RoomCell(minute, opens, closes))
                cells[minute] = RoomCell(
                    minute, min(old.opens, opens), max(old.closes, closes), old.days + 1, old.over + over
                )

    @property
    def week(self) -> tuple[RoomDay, ...]:
        minutes = [minute for cells in self._cells.values() for minute in cells]
        columns = range(min(minutes), max(minutes) + SLOT, SLOT) if minutes else ()
        return tuple(
            RoomDay(weekday, tuple(cells.get(minute, RoomCell(minute)) for minute in columns))
            for weekday, cells in sorted(self._cells.items())
            if cells
        )


def _minute(moment: datetime, day: date) -> int:
    """The wall clock in minutes of `day`; its end is 1440."""
    return 1440 if moment.date() > day else moment.hour * 60 + moment.minute
