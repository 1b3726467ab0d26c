"""What a capacity rule is, and the rules in `provider/rules/capacity/`."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Literal

from provider.periods import DateSpan
from provider.rule_files import RuleFileError, build, read_file
from provider.steps import gettext_noop

Checked = Literal["published", "second_hand", "memory", "entered"]

RULES = Path(__file__).parent.parent / "rules" / "capacity"


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
        return in_band(age_in_months(birth, day), self.from_months, self.under_months)


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
        if self.most is not None and self.most < 0:
            raise ValueError(f"the most of {self.name} is below zero")


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
        tiers=(Tier(gettext_noop("Your own numbers"), most, limits=tuple(limits)),),
        children_under_months=children_under_months,
        own_under_months=own_under_months,
    )


def age_in_months(birth: date, day: date) -> int:
    """Whole months of age; 0 before birth, so that a place planned for an unborn child counts as a newborn."""
    return max(0, (day.year - birth.year) * 12 + day.month - birth.month - (day.day < birth.day))


def in_band(age: int, from_months: int, under_months: int | None) -> bool:
    return from_months <= age and (under_months is None or age < under_months)


def _check_order(from_months: int, under_months: int | None) -> None:
    if from_months < 0 or (under_months is not None and under_months <= from_months):
        raise ValueError(f"ages from {from_months} to under {under_months} months are none")
