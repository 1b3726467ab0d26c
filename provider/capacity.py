"""How many children may be present at once: the rules of a place, checked over every minute of stays.

`rules/capacity/<country>_<region>.toml` holds the rules with their dates and sources; `custom_rule` makes one from the
owner's own numbers. A rule has tiers and holds while ANY of them does. Ages are whole months (or days) on the local
date; a month is complete on the day of the same number, or on the first of the next month when there is no such day, so
that a child born on 29 February has its birthday on 1 March in a common year, which is the cautious reading.
The files reach back to 2020; a day before that has no rule.
A warning, never a permission: the licence and the licensor decide.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, tzinfo
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Literal

from provider.hours import Interval, merge
from provider.periods import ONE_DAY, DateSpan, WeekPattern
from provider.rule_files import RuleFileError, build, read_file
from provider.steps import gettext_noop

Checked = Literal["published", "second_hand", "memory", "entered"]

RULES = Path(__file__).parent / "rules" / "capacity"


class UnknownCapacityRule(LookupError):
    """No rule has this code on this day."""


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `most` counted children aged `from_months` to under `under_months` (or under `under_days`).

    `name` is an English message id that completes "at most 3 ...".
    """

    name: str
    most: int
    from_months: int = 0
    under_months: int | None = None
    under_days: int | None = None

    def __post_init__(self) -> None:
        _check_order(self.from_months, self.under_months)
        if self.most < 0:
            raise ValueError(f"the most of {self.name} is below zero")

    def covers(self, birth: date, day: date) -> bool:
        if self.under_days is not None and (day - birth).days >= self.under_days:
            return False
        return _in_band(age_in_months(birth, day), self.from_months, self.under_months)


@dataclass(frozen=True, slots=True)
class Quota:
    """At least `least` counted children who are `from_months` old or, with `or_in_school`, known to attend school."""

    name: str
    least: int
    from_months: int
    or_in_school: bool = False


@dataclass(frozen=True, slots=True)
class Tier:
    """One way to be within a rule: at most `most` children of at most `most_families`, every limit and quota kept."""

    name: str
    most: int | None = None
    most_families: int | None = None
    limits: tuple[Limit, ...] = ()
    quotas: tuple[Quota, ...] = ()

    def __post_init__(self) -> None:
        if self.most is None and self.most_families is None:
            raise ValueError(f"{self.name} limits neither children nor families")


@dataclass(frozen=True, slots=True)
class PointBand:
    """What one child of this age weighs."""

    points: int
    from_months: int = 0
    under_months: int | None = None

    def __post_init__(self) -> None:
        _check_order(self.from_months, self.under_months)


@dataclass(frozen=True, slots=True)
class Points:
    """At most `per_adult` points for each adult present. Own children weigh while under `own_under_months`, or always.

    The bands follow each other from birth without a gap; ValueError otherwise.
    """

    per_adult: int
    bands: tuple[PointBand, ...]
    own_under_months: int | None = None

    def __post_init__(self) -> None:
        edges: list[int | None] = [0]
        for band in self.bands:
            if band.from_months != edges[-1]:
                raise ValueError(f"the bands of points have a gap or overlap at {band.from_months} months")
            edges.append(band.under_months)
        if edges[-1] is not None:
            raise ValueError("the last band of points must be open")


@dataclass(frozen=True, slots=True)
class CapacityRule:
    """A limit on the children present at once, on the days in `effective`.

    Children count while under `children_under_months` (None: at any age), own children while under `own_under_months`
    (None: like the others, 0: never). `adults` is how many must be there. `conditions` are to be shown: no program can
    check them. `unconfirmed` names the parts that nobody could check in a public copy.
    """

    code: str
    country: str
    region: str
    place: str
    kind: str
    adults: int
    source: str
    checked: Checked
    effective: DateSpan
    tiers: tuple[Tier, ...]
    conditions: tuple[str, ...] = ()
    unconfirmed: tuple[str, ...] = ()
    children_under_months: int | None = None
    own_under_months: int | None = None
    points: Points | None = None

    def __post_init__(self) -> None:
        if not self.tiers or self.adults < 1:
            raise ValueError(f"{self.code} needs a tier and an adult")

    @property
    def most(self) -> int | None:
        """The largest number of children any tier allows; None when none names a number."""
        return max((tier.most for tier in self.tiers if tier.most is not None), default=None)

    def limited_to(self, children: int) -> "CapacityRule":
        """The rule under a licence for `children`: the licence's number holds where it is lower."""
        tiers = tuple(
            replace(tier, most=children if tier.most is None else min(tier.most, children)) for tier in self.tiers
        )
        return replace(self, tiers=tiers)


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
    breaches: tuple[Breach, ...]
    peaks: tuple[Peak, ...]


@cache
def capacity_rules() -> tuple[CapacityRule, ...]:
    """Every rule of the files, by place and in their order. Raises RuleFileError."""
    found: list[CapacityRule] = []
    for path in sorted(RULES.glob("*.toml")):
        content = read_file(path, {"country", "region", "place", "rule"})
        here = {key: content[key] for key in ("country", "region", "place")}
        if path.stem != f"{here['country']}_{here['region']}".lower():
            raise RuleFileError(f"{path.name}: the country or region in the file is another one")
        found.extend(build(path, here | raw, CapacityRule) for raw in content["rule"])
    for one, other in combinations(found, 2):
        if one.code == other.code and one.effective.overlaps(other.effective):
            raise RuleFileError(f"two rules {one.code} for the same days")
    return tuple(found)


def rule(code: str, day: date) -> CapacityRule:
    """The rule of this code in force on a day. Raises UnknownCapacityRule."""
    for each in capacity_rules():
        if each.code == code and day in each.effective:
            return each
    raise UnknownCapacityRule(f"{code} on {day}")


def custom_rule(
    most: int,
    *,
    effective: DateSpan,
    limits: Sequence[Limit] = (),
    children_under_months: int | None = None,
    own_under_months: int | None = None,
    adults: int = 1,
) -> CapacityRule:
    """A rule of one tier from numbers the owner entered, for a place without a rule file. ValueError below zero."""
    return CapacityRule(
        code="custom",
        country="",
        region="",
        place=gettext_noop("Your own numbers"),
        kind=gettext_noop("Entered by hand"),
        adults=adults,
        source=gettext_noop("Entered by the owner"),
        checked="entered",
        effective=effective,
        tiers=(Tier(gettext_noop("Your own numbers"), _at_least_zero(most), limits=tuple(limits)),),
        children_under_months=children_under_months,
        own_under_months=own_under_months,
    )


def age_in_months(birth: date, day: date) -> int:
    """Whole months of age; 0 before birth, so that a place planned for an unborn child counts as a newborn."""
    return max(0, (day.year - birth.year) * 12 + day.month - birth.month - (day.day < birth.day))


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


def evaluate(
    rule: CapacityRule, stays: Iterable[Stay], zone: tzinfo, adults: Iterable[Interval] | None = None
) -> Evaluation:
    """The rule over every minute of the stays, by local day.

    `adults` are the times of each adult present, one interval per adult and time; None takes as many as the rule
    needs. ValueError: a stay that ends before it starts or has no time zone, or one key for two different children.
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
    adults: Iterable[Interval] | None = None,
) -> tuple[Breach, ...]:
    """The breaches that `extra` stays would bring to the planned ones, or make worse. Raises like `evaluate`."""
    planned, adults = list(planned), None if adults is None else list(adults)
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
    adults: Iterable[Interval] | None = None,
) -> int:
    """How many unrelated children like `newcomer` still fit through the whole stay, up to the rule's largest number."""
    planned, adults = list(planned), None if adults is None else list(adults)
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


def _moments(stays: Iterable[Stay], zone: tzinfo, adults: Iterable[Interval] | None) -> Iterator[Moment]:
    """Spans in UTC, within one local day, with the same children (at least one) and adults throughout."""
    arriving, leaving = _edges(stays)
    adult_change: Counter[datetime] = Counter()
    for interval in adults or ():
        for start, end in merge([interval]):
            adult_change[start] += 1
            adult_change[end] -= 1
    present: set[Child] = set()
    adult_count = 0
    for start, end in pairwise(sorted({*arriving, *leaving, *adult_change})):
        present.difference_update(leaving.get(start, ()))
        present.update(arriving.get(start, ()))
        adult_count += adult_change[start]
        if present:
            for from_, until, day in _by_day(start, end, zone):
                yield from_, until, day, frozenset(present), None if adults is None else adult_count


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
    return _in_band(age, 0, rule.children_under_months) and not (
        child.is_own and not _in_band(age, 0, rule.own_under_months)
    )


def _fills(quota: Quota, child: Child, day: date) -> bool:
    return age_in_months(child.birth_date, day) >= quota.from_months or (quota.or_in_school and child.in_school)


def _points(points: Points, children: Iterable[Child], day: date) -> int:
    total = 0
    for child in children:
        age = age_in_months(child.birth_date, day)
        if not child.is_own or _in_band(age, 0, points.own_under_months):
            total += next(band.points for band in points.bands if _in_band(age, band.from_months, band.under_months))
    return total


def _in_band(age: int, from_months: int, under_months: int | None) -> bool:
    return from_months <= age and (under_months is None or age < under_months)


def _check_order(from_months: int, under_months: int | None) -> None:
    if from_months < 0 or (under_months is not None and under_months <= from_months):
        raise ValueError(f"ages from {from_months} to under {under_months} months are none")


def _at_least_zero(number: int) -> int:
    if number < 0:
        raise ValueError("a number of children is not below zero")
    return number
