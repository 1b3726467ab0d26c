"""The food programme's claim for a month, from the meals that were recorded. United States only."""

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from billing.food import (
    GROUPS,
    REASONS,
    ClaimLine,
    Eater,
    FoodClaim,
    FoodRate,
    Group,
    Kind,
    MissingFoodRate,
    NotClaimed,
    Served,
    claim_meals,
    food_rules,
)
from billing.models import FoodProgramme
from provider.models import Child, MealServed, Provider
from provider.money import ZERO
from provider.periods import DateSpan


@dataclass(frozen=True, slots=True)
class ChildClaim:
    """A child's month: claimed meals by group in the order of `MonthClaim.groups`, and how many were not, by reason."""

    child: Child
    counts: tuple[tuple[Group, int], ...]
    amount: Decimal
    not_claimed: tuple[tuple[NotClaimed, int], ...]


@dataclass(frozen=True, slots=True)
class DayLine:
    """One meal of one child, for the file and for the list of what was not claimed."""

    child: Child
    line: ClaimLine


@dataclass(frozen=True, slots=True)
class MonthClaim:
    """`outside` counts meals of days on which the business took no part. `problem`: why no claim can be made.

    `rates` are those that applied, each with its source and whether that was checked.
    """

    span: DateSpan
    programmes: tuple[FoodProgramme, ...]
    claim: FoodClaim
    children: tuple[ChildClaim, ...]
    lines: tuple[DayLine, ...]
    rates: tuple[FoodRate, ...]
    outside: int
    problem: str = ""

    @property
    def groups(self) -> tuple[Group, ...]:
        claimed = {GROUPS[line.kind] for line in self.claim.claimed}
        return tuple(group for group in dict.fromkeys(GROUPS.values()) if group in claimed)

    @property
    def group_counts(self) -> tuple[tuple[Group, int], ...]:
        counts = Counter(GROUPS[line.kind] for line in self.claim.claimed)
        return tuple((group, counts[group]) for group in self.groups)

    @property
    def not_claimed(self) -> tuple[DayLine, ...]:
        return tuple(each for each in self.lines if each.line.not_claimed)


def programmes_of(provider: Provider) -> list[FoodProgramme]:
    """All times of taking part, the latest first. One query."""
    return list(FoodProgramme.objects.filter(provider=provider).order_by("-start"))


def meal_months(provider: Provider) -> list[date]:
    """The first days of the months with meals, the latest first. One query."""
    served = MealServed.objects.filter(provider=provider, voided_at__isnull=True)
    return list(served.dates("day", "month", order="DESC"))


def month_claim(provider: Provider, span: DateSpan) -> MonthClaim:
    """The claim of a closed span, usually a month. Two queries.

    A tier that changed within the span is claimed in parts. A day without a known rate makes no claim at all.
    """
    served = list(
        MealServed.objects.filter(provider=provider, voided_at__isnull=True, day__gte=span.start, day__lt=span.end)
        .select_related("child")
        .order_by("child__name", "child_id", "day")
    )
    programmes = tuple(FoodProgramme.objects.filter(provider=provider, start__lt=span.end).order_by("start"))
    taking_part = tuple(row for row in programmes if row.end is None or row.end > span.start)
    children: dict[Hashable, Child] = {row.child_id: row.child for row in served}
    region = food_rules().region_of(provider.region)
    lines: list[ClaimLine] = []
    inside, problem = 0, ""
    for programme in taking_part:
        days = DateSpan(programme.start, programme.end)
        eaten = [row for row in served if row.day in days]
        inside += len(eaten)
        try:
            lines += claim_meals(_served(eaten, programme), region).lines
        except MissingFoodRate as error:
            problem = _(
                "No rate is known for %(region)s, tier %(tier)s, on %(day)s. Nothing can be claimed by guessing."
            ) % {
                "region": provider.region or _("your state"),
                "tier": error.tier,
                "day": date_format(error.day),
            }
    claim = FoodClaim(() if problem else tuple(lines))
    eaters = {line.child for line in claim.lines}
    return MonthClaim(
        span,
        taking_part,
        claim,
        tuple(_child_claim(child, claim) for child in children.values() if child.pk in eaters),
        tuple(DayLine(children[line.child], line) for line in claim.lines),
        _rates(taking_part, span, region),
        len(served) - inside,
        problem,
    )


def reason_words(reason: NotClaimed) -> str:
    """Why a meal is not claimed, in words."""
    return _(REASONS[reason])


def _served(rows: list[MealServed], programme: FoodProgramme) -> list[Served]:
    eaters = {
        row.child_id: Eater(
            key=row.child_id,
            birth_date=row.child.birth_date,
            tier=programme.tier,
            is_own=row.child.is_own_child,
            income_eligible=row.child.is_own_child and programme.claims_own_children,
            left_out=row.child.meals_not_claimed,
        )
        for row in rows
    }
    kinds: dict[tuple[int, date], set[Kind]] = {}
    for row in rows:
        kinds.setdefault((row.child_id, row.day), set()).add(cast(Kind, row.kind))
    return [Served(eaters[child], day, frozenset(eaten)) for (child, day), eaten in kinds.items()]


def _child_claim(child: Child, claim: FoodClaim) -> ChildClaim:
    own = [line for line in claim.lines if line.child == child.pk]
    counts = Counter(GROUPS[line.kind] for line in own if line.not_claimed is None)
    reasons = Counter(line.not_claimed for line in own if line.not_claimed)
    groups = {GROUPS[line.kind] for line in claim.claimed}
    return ChildClaim(
        child,
        tuple((group, counts[group]) for group in dict.fromkeys(GROUPS.values()) if group in groups),
        sum((line.amount for line in own), ZERO),
        tuple((reason, reasons[reason]) for reason in REASONS if reasons[reason]),
    )


def _rates(programmes: tuple[FoodProgramme, ...], span: DateSpan, region: str) -> tuple[FoodRate, ...]:
    """The rates that apply in the span to the tiers taken part in."""
    return tuple(
        rate
        for rate in food_rules().rates
        if rate.region == region
        and any(
            rate.tier == row.tier
            and (days := DateSpan(row.start, row.end).intersect(span)) is not None
            and days.overlaps(rate.effective)
            for row in programmes
        )
    )
