"""Whether one more fits: a wanted week, or the places of a child, against a year of plans and the limit."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby

from provider import capacity
from provider.capacity import Excess
from provider.hours import clip
from provider.models import Child, Provider
from provider.periods import DateSpan, WeekPattern, WeekSlot, years_after
from provider.selectors.capacity import counted, load_plan

NEWCOMER = "newcomer"
SLOT = 30  # minutes


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
    return DateSpan(day, years_after(day, 1))


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
                if inside := clip((breach.start, breach.end), (stay.start, stay.end)):
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
