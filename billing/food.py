"""What the food programme pays for meals served, and which meals the standard meal rates count.

Everything served is recorded; only the claim is limited. Of a child's meals in a day the claim takes the allowed
combination with the highest value, and the rest stay "served, not claimed". Rates, combinations and ages stand in
`rules/us_food_programme.toml`. The sponsor decides what is paid; a missing rate is an error, never a guess.
"""

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from itertools import combinations
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from provider.capacity import age_in_months
from provider.money import ZERO
from provider.periods import DateSpan
from provider.rule_files import RuleFileError, build, read_file
from provider.steps import gettext_noop

Kind = Literal["breakfast", "morning_snack", "lunch", "afternoon_snack", "supper", "evening_snack"]
Group = Literal["breakfast", "lunch", "supper", "snack"]
Checked = Literal["published", "second_hand", "memory"]
NotClaimed = Literal["left_out", "over_age", "own_child", "own_child_alone", "over_daily_maximum"]

GROUPS: Mapping[Kind, Group] = MappingProxyType(
    {
        "breakfast": "breakfast",
        "morning_snack": "snack",
        "lunch": "lunch",
        "afternoon_snack": "snack",
        "supper": "supper",
        "evening_snack": "snack",
    }
)
"""The kinds of meal in the order of the day, and the group each is claimed in."""

REASONS: Mapping[NotClaimed, str] = MappingProxyType(
    {
        "left_out": gettext_noop("Left out of claims"),
        "over_age": gettext_noop("Too old for the food programme"),
        "own_child": gettext_noop("Own child, household not income-eligible"),
        "own_child_alone": gettext_noop("Own child, no other child ate this meal"),
        "over_daily_maximum": gettext_noop("Over the most that may be claimed for a day"),
    }
)

TAX_MOST: Mapping[Group, int] = MappingProxyType({"breakfast": 1, "lunch": 1, "supper": 1, "snack": 3})
"""Revenue Procedure 2003-22: meals of one child and day that the standard rates count."""

RULES = Path(__file__).parent / "rules"


class MissingFoodRate(LookupError):
    """No rate is known for this region, tier and day, so that nothing may be claimed."""

    def __init__(self, region: str, tier: int, day: date) -> None:
        super().__init__(f"no food programme rate for {region}, tier {tier}, on {day}")
        self.region = region
        self.tier = tier
        self.day = day


@dataclass(frozen=True, slots=True)
class FoodRate:
    """Dollars for one meal of one child in a home of `tier` 1 or 2."""

    region: str
    tier: int
    breakfast: Decimal
    lunch_supper: Decimal
    snack: Decimal
    source: str
    checked: Checked
    effective: DateSpan

    def of(self, kind: Kind) -> Decimal:
        group = GROUPS[kind]
        return {"breakfast": self.breakfast, "snack": self.snack}.get(group, self.lunch_supper)


@dataclass(frozen=True, slots=True)
class Combination:
    """The most meals and snacks that may be claimed together for one child and day."""

    meals: int
    snacks: int
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class Ages:
    """The ages, in years, below which a child is eligible."""

    under_years: int
    under_years_migrant: int
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class FoodRules:
    """The rules of the programme. `regions` names the places with rates of their own, by postal code."""

    ages: Ages
    combinations: tuple[Combination, ...]
    rates: tuple[FoodRate, ...]
    regions: Mapping[str, str]

    def region_of(self, place: str) -> str:
        """The rate region of a state or territory (`TX` is `contiguous`)."""
        return self.regions.get(place, "contiguous")

    def rate(self, region: str, tier: int, day: date) -> FoodRate:
        """Raises MissingFoodRate."""
        for rate in self.rates:
            if (rate.region, rate.tier) == (region, tier) and day in rate.effective:
                return rate
        raise MissingFoodRate(region, tier, day)


@dataclass(frozen=True, slots=True)
class Eater:
    """What the programme asks of a child. `key` is any id; `tier` (1 or 2) is the child's in a mixed home.

    `income_eligible` matters for own children only. A `disabled` child has no age limit; the sponsor must agree.
    """

    key: Hashable
    birth_date: date
    tier: int
    is_own: bool = False
    income_eligible: bool = False
    migrant: bool = False
    disabled: bool = False
    left_out: bool = False


@dataclass(frozen=True, slots=True)
class Served:
    """What a child ate on a day."""

    child: Eater
    day: date
    kinds: frozenset[Kind]


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One meal of one child: what it brings when claimed, else 0.00 and the reason why not."""

    child: Hashable
    day: date
    kind: Kind
    tier: int
    amount: Decimal = ZERO
    not_claimed: NotClaimed | None = None


@dataclass(frozen=True, slots=True)
class MealTotal:
    """Claimed meals of one group, tier and rate; amount = count x rate."""

    group: Group
    tier: int
    rate: Decimal
    count: int

    @property
    def amount(self) -> Decimal:
        return self.rate * self.count


@dataclass(frozen=True, slots=True)
class FoodClaim:
    """The meals of a claim by day, in the order of the children and of the day."""

    lines: tuple[ClaimLine, ...]

    @property
    def claimed(self) -> tuple[ClaimLine, ...]:
        return tuple(line for line in self.lines if line.not_claimed is None)

    @property
    def not_claimed(self) -> tuple[ClaimLine, ...]:
        return tuple(line for line in self.lines if line.not_claimed is not None)

    @property
    def totals(self) -> tuple[MealTotal, ...]:
        """By group in the order of the day, tier and rate; two rates when the claim passes 1 July."""
        counts = Counter((GROUPS[line.kind], line.tier, line.amount) for line in self.claimed)
        order = list(dict.fromkeys(GROUPS.values()))
        keys = sorted(counts, key=lambda key: (order.index(key[0]), *key[1:]))
        return tuple(MealTotal(*key, counts[key]) for key in keys)

    @property
    def amount(self) -> Decimal:
        return sum((line.amount for line in self.claimed), ZERO)


@cache
def food_rules() -> FoodRules:
    """The programme's rule file. Raises RuleFileError."""
    path = RULES / "us_food_programme.toml"
    content = read_file(path, {"country", "regions", "ages", "combination", "rate"})
    rates = tuple(build(path, raw, FoodRate) for raw in content["rate"])
    for one, other in combinations(rates, 2):
        if (one.region, one.tier) == (other.region, other.tier) and one.effective.overlaps(other.effective):
            raise RuleFileError(f"{path.name}: two rates for {one.region}, tier {one.tier}, on the same days")
    return FoodRules(
        build(path, content["ages"], Ages),
        tuple(build(path, raw, Combination) for raw in content["combination"]),
        rates,
        MappingProxyType(content["regions"]),
    )


def claim_meals(served: Iterable[Served], region: str, rules: FoodRules | None = None) -> FoodClaim:
    """The claim for meals served in a home of a rate region, usually those of one month.

    Raises MissingFoodRate for a day, tier or region without a rate; ValueError for one key with two children.
    """
    rules = rules or food_rules()
    eaten = _by_day_and_child(served)
    company = {
        (day, kind)
        for (day, child), kinds in eaten.items()
        if not child.is_own and _barred(child, day, rules.ages) is None
        for kind in kinds
    }
    lines: list[ClaimLine] = []
    for (day, child), kinds in eaten.items():
        barred = _barred(child, day, rules.ages)
        allowed = [kind for kind in kinds if not barred and (not child.is_own or (day, kind) in company)]
        rate = rules.rate(region, child.tier, day) if allowed else None
        best = _best(allowed, rate, rules.combinations) if rate else ()
        for kind in kinds:
            if rate and kind in best:
                lines.append(ClaimLine(child.key, day, kind, child.tier, rate.of(kind)))
            else:
                alone: NotClaimed = "over_daily_maximum" if kind in allowed else "own_child_alone"
                lines.append(ClaimLine(child.key, day, kind, child.tier, not_claimed=barred or alone))
    return FoodClaim(tuple(lines))


def tax_countable(meals: Iterable[Kind]) -> tuple[Kind, ...]:
    """Of one child's meals in a day those that the standard meal rates count, in the order of the day.

    One breakfast, one lunch, one supper and three snacks at most, whatever the food programme paid.
    """
    left = Counter(TAX_MOST)
    countable: list[Kind] = []
    for kind in sorted(meals, key=list(GROUPS).index):
        if left[GROUPS[kind]]:
            left[GROUPS[kind]] -= 1
            countable.append(kind)
    return tuple(countable)


def _by_day_and_child(served: Iterable[Served]) -> dict[tuple[date, Eater], list[Kind]]:
    """Kinds in the order of the day, days in order, children in the order in which they first came."""
    found: dict[tuple[date, Eater], set[Kind]] = {}
    for each in served:
        found.setdefault((each.day, each.child), set()).update(each.kinds)
    children = dict.fromkeys(child for _, child in found)
    twice = [key for key, count in Counter(child.key for child in children).items() if count > 1]
    if twice:
        raise ValueError(f"two different children have the key {twice[0]!r}")
    return {each: [kind for kind in GROUPS if kind in found[each]] for each in sorted(found, key=lambda each: each[0])}


def _barred(child: Eater, day: date, ages: Ages) -> NotClaimed | None:
    """Why none of the child's meals may be claimed on a day."""
    if child.left_out:
        return "left_out"
    if child.is_own and not child.income_eligible:
        return "own_child"
    years = ages.under_years_migrant if child.migrant else ages.under_years
    if not child.disabled and age_in_months(child.birth_date, day) >= years * 12:
        return "over_age"
    return None


def _best(kinds: Sequence[Kind], rate: FoodRate, allowed: Iterable[Combination]) -> tuple[Kind, ...]:
    """The combination of the highest value; of equal ones the first, with the meals earlier in the day."""
    snacks = [kind for kind in kinds if GROUPS[kind] == "snack"]
    meals = sorted((kind for kind in kinds if kind not in snacks), key=lambda kind: -rate.of(kind))
    options = [(*meals[: each.meals], *snacks[: each.snacks]) for each in allowed]
    return max(options, key=lambda option: sum((rate.of(kind) for kind in option), ZERO))
