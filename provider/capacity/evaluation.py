"""A rule over every minute of stays: breaches, peaks, and what a newcomer would bring."""

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, tzinfo
from itertools import pairwise

from provider.capacity.rules import CapacityRule, Points, Quota, Tier, age_in_months, in_band
from provider.hours import Interval, merge
from provider.periods import ONE_DAY, DateSpan, WeekPattern
from provider.steps import gettext_noop

# The times of each adult present (one interval per adult and time), or a steady number; None is as many as needed.
Adults = Sequence[Interval] | int | None


@dataclass(frozen=True, slots=True)
class Child:
    """What a rule asks of a child. `family` tells siblings (None: a family of its own); `key` is any id."""

    key: Hashable
    birth_date: date
    is_own: bool = False
    family: Hashable = None
    in_school: bool = False


@dataclass(frozen=True, slots=True)
class Stay:
    """A child in the home from `start` up to `end`, aware datetimes, planned or as it was. Seconds are dropped."""

    child: Child
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Excess:
    """What is out of its limit: `found` above `allowed`, or below it when `too_few`. `name` is a message id."""

    name: str
    found: int
    allowed: int
    too_few: bool = False

    @property
    def gap(self) -> int:
        return abs(self.found - self.allowed)


@dataclass(frozen=True, slots=True)
class Headcount:
    """A rule at one moment: the keys of the children who count, their points, and the closest tier with its excess."""

    counted: frozenset[Hashable]
    points: int
    tier: Tier
    excess: tuple[Excess, ...]

    @property
    def gap(self) -> int:
        return sum(each.gap for each in self.excess)


@dataclass(frozen=True, slots=True)
class Breach:
    """The same children out of the rule in the same way from `start` up to `end`, local time."""

    start: datetime
    end: datetime
    headcount: Headcount


@dataclass(frozen=True, slots=True)
class Peak:
    """The most children and points at any minute of a day.

    `headroom` is the further children by number alone, ages aside; None when the rule names no number.
    """

    day: date
    children: int
    points: int
    headroom: int | None


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Where stays break a rule, and how full the house gets."""

    breaches: tuple[Breach, ...]
    peaks: tuple[Peak, ...]


def assess(rule: CapacityRule, children: Collection[Child], day: date, adults: int | None = None) -> Headcount:
    """The rule for the children present together on a day; `adults=None` takes as many as the rule needs."""
    present = rule.adults if adults is None else adults
    counted = [child for child in children if _counts(rule, child, day)]
    points = _points(rule.points, children, day) if rule.points else 0
    shared: list[Excess] = []
    if (counted or points) and present < rule.adults:
        shared.append(Excess(gettext_noop("Adults"), present, rule.adults, too_few=True))
    if rule.points and points > rule.points.per_adult * present:
        shared.append(Excess(gettext_noop("Points"), points, rule.points.per_adult * present))
    keys = frozenset(child.key for child in counted)
    by_tier = [Headcount(keys, points, tier, (*_excess(tier, counted, day), *shared)) for tier in rule.tiers]
    return min(by_tier, key=lambda headcount: headcount.gap)


def evaluate(rule: CapacityRule, stays: Iterable[Stay], zone: tzinfo, adults: Adults = None) -> Evaluation:
    """The rule over every minute of the stays, by local day.

    ValueError: a stay that ends before it starts or has no time zone, or one key for two different children.
    """
    breaches: list[Breach] = []
    peaks: dict[date, Peak] = {}
    for start, end, day, children, adult_count in _moments(stays, zone, adults):
        headcount = assess(rule, children, day, adult_count)
        count = len(headcount.counted)
        earlier = peaks.get(day)
        most = max(count, earlier.children if earlier else 0)
        points = max(headcount.points, earlier.points if earlier else 0)
        peaks[day] = Peak(day, most, points, None if rule.most is None else max(0, rule.most - most))
        if not headcount.excess:
            continue
        if breaches and (breaches[-1].end, breaches[-1].headcount) == (start, headcount):
            breaches[-1] = replace(breaches[-1], end=end)
        else:
            breaches.append(Breach(start, end, headcount))
    local = (replace(each, start=each.start.astimezone(zone), end=each.end.astimezone(zone)) for each in breaches)
    return Evaluation(tuple(local), tuple(peaks.values()))


def would_exceed(
    rule: CapacityRule,
    planned: Iterable[Stay],
    extra: Iterable[Stay],
    zone: tzinfo,
    adults: Adults = None,
) -> tuple[Breach, ...]:
    """The breaches that `extra` stays would bring to the planned ones, or make worse. Raises like `evaluate`."""
    planned = list(planned)
    before = evaluate(rule, planned, zone, adults).breaches
    brought: list[Breach] = []
    for breach in evaluate(rule, [*planned, *extra], zone, adults).breaches:
        start, end = breach.start.astimezone(UTC), breach.end.astimezone(UTC)
        for old in before:
            old_start, old_end = old.start.astimezone(UTC), old.end.astimezone(UTC)
            if old_end <= start or end <= old_start or old.headcount.gap < breach.headcount.gap:
                continue
            if start < old_start:
                brought.append(replace(breach, start=start.astimezone(zone), end=old_start.astimezone(zone)))
            start = min(old_end, end)
        if start < end:
            brought.append(replace(breach, start=start.astimezone(zone), end=end.astimezone(zone)))
    return tuple(brought)


def room(
    rule: CapacityRule,
    planned: Iterable[Stay],
    newcomer: Stay,
    zone: tzinfo,
    adults: Adults = None,
) -> int:
    """How many unrelated children like `newcomer` still fit through the whole stay, up to the rule's largest number."""
    planned = list(planned)
    extra: list[Stay] = []
    for number in range(rule.most or 0):
        child = replace(newcomer.child, key=("newcomer", number), is_own=False, family=("newcomer", number))
        extra.append(replace(newcomer, child=child))
        if would_exceed(rule, planned, extra, zone, adults):
            return number
    return len(extra)


def planned_stays(
    child: Child, pattern: WeekPattern, span: DateSpan, zone: tzinfo, closed: Collection[date] = ()
) -> list[Stay]:
    """The stays of a usual week on each day of a closed span, without those in `closed`.

    A slot that falls wholly into the hour skipped in spring is left out.
    """
    stays = []
    for day in span.iter_days():
        for slot in pattern.on(day) if day not in closed else ():
            last = day + ONE_DAY if slot.end <= slot.start else day
            start, end = datetime.combine(day, slot.start, zone), datetime.combine(last, slot.end, zone)
            if start.astimezone(UTC) < end.astimezone(UTC):
                stays.append(Stay(child, start, end))
    return stays


Moment = tuple[datetime, datetime, date, frozenset[Child], int | None]


def _moments(stays: Iterable[Stay], zone: tzinfo, adults: Adults) -> Iterator[Moment]:
    """Spans in UTC, within one local day, with the same children (at least one) and adults throughout."""
    arriving, leaving = _edges(stays)
    adult_change: Counter[datetime] = Counter()
    for interval in adults if isinstance(adults, Sequence) else ():
        for start, end in merge([interval]):
            adult_change[start] += 1
            adult_change[end] -= 1
    present: set[Child] = set()
    adult_count = 0 if isinstance(adults, Sequence) else adults
    for start, end in pairwise(sorted({*arriving, *leaving, *adult_change})):
        present.difference_update(leaving.get(start, ()))
        present.update(arriving.get(start, ()))
        if adult_count is not None:
            adult_count += adult_change[start]
        if present:
            for from_, until, day in _by_day(start, end, zone):
                yield from_, until, day, frozenset(present), adult_count


def _edges(stays: Iterable[Stay]) -> tuple[Mapping[datetime, list[Child]], Mapping[datetime, list[Child]]]:
    intervals: defaultdict[Child, list[Interval]] = defaultdict(list)
    for stay in stays:
        intervals[stay.child].append((stay.start, stay.end))
    twice = [key for key, count in Counter(child.key for child in intervals).items() if count > 1]
    if twice:
        raise ValueError(f"two different children have the key {twice[0]!r}")
    arriving: defaultdict[datetime, list[Child]] = defaultdict(list)
    leaving: defaultdict[datetime, list[Child]] = defaultdict(list)
    for child, some in intervals.items():
        for start, end in merge(some):
            arriving[start].append(child)
            leaving[end].append(child)
    return arriving, leaving


def _by_day(start: datetime, end: datetime, zone: tzinfo) -> Iterator[tuple[datetime, datetime, date]]:
    while start < end:
        day = start.astimezone(zone).date()
        midnight = datetime.combine(day + ONE_DAY, time.min, zone).astimezone(UTC)
        yield start, min(end, midnight), day
        start = midnight


def _excess(tier: Tier, counted: Sequence[Child], day: date) -> list[Excess]:
    families = len({(child.family, child.key if child.family is None else None) for child in counted})
    over = [
        (gettext_noop("Children"), len(counted), tier.most),
        (gettext_noop("Families"), families, tier.most_families),
    ]
    excess = [Excess(name, found, most) for name, found, most in over if most is not None and found > most]
    for limit in tier.limits:
        found = sum(limit.covers(child.birth_date, day) for child in counted)
        if found > limit.most:
            excess.append(Excess(limit.name, found, limit.most))
    for quota in tier.quotas:
        found = sum(_fills(quota, child, day) for child in counted)
        if found < quota.least:
            excess.append(Excess(quota.name, found, quota.least, too_few=True))
    return excess


def _counts(rule: CapacityRule, child: Child, day: date) -> bool:
    age = age_in_months(child.birth_date, day)
    return in_band(age, 0, rule.children_under_months) and not (
        child.is_own and not in_band(age, 0, rule.own_under_months)
    )


def _fills(quota: Quota, child: Child, day: date) -> bool:
    return age_in_months(child.birth_date, day) >= quota.from_months or (quota.or_in_school and child.in_school)


def _points(points: Points, children: Iterable[Child], day: date) -> int:
    total = 0
    for child in children:
        age = age_in_months(child.birth_date, day)
        if not child.is_own or in_band(age, 0, points.own_under_months):
            total += next(band.points for band in points.bands if in_band(age, band.from_months, band.under_months))
    return total
