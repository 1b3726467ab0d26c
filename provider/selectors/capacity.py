"""The limit on the children present, over what is planned and what was recorded: a warning, never a permission.

The provider's own children live in the home. On a day for which nothing else is known of one, it is taken to be there
as its place says, and without a place through all opening hours.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import pairwise

from django.utils.translation import gettext as _

from provider import capacity
from provider.capacity import CapacityRule, Headcount, Limit, Stay, UnknownCapacityRule, planned_stays
from provider.hours import clip, instants
from provider.models import Attendance, CapacitySetting, Child, Closure, Enrolment, OpeningHours, PatternDay, Provider
from provider.models.base import meets
from provider.periods import ONE_DAY, DateSpan, WeekPattern, WeekSlot
from provider.selectors.stays import LONGEST_STAY
from provider.services.capacity import CUSTOM
from provider.templatetags.capacity import months_of_age

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
    bounds = instants(DateSpan.day(day), plan.zone)
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
        Stay(child, *inside) for child, *edges in found if (inside := clip((edges[0], edges[1]), bounds)) is not None
    ]
