"""The plan of a run centre by centre, the library of activities, and what both practise."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet, Sum
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from curriculum.models import (
    Activity,
    ActivityGoal,
    LearningCentre,
    OwnGoal,
    Placement,
    PlannedActivity,
    PlannedMaterial,
    ReviewMark,
    ThemeRun,
)
from curriculum.planning import Ages, Coverage, Practised, coverage
from curriculum.selectors.themes import centres_of
from curriculum.skills import Framework, Own, with_own
from curriculum.stock import NOTHING
from provider.capacity import age_in_months
from provider.models import Child, Provider
from provider.models.base import meets
from provider.periods import DateSpan

PLANNED = PlannedActivity.objects.filter(voided_at__isnull=True)


@dataclass(frozen=True, slots=True)
class Practice:
    """A goal that an activity practises, in words."""

    code: str
    title: str
    is_main: bool


@dataclass(frozen=True, slots=True)
class PlannedView:
    """A planned activity with its goals, the main one first, and what was said of it after the run before."""

    planned: PlannedActivity
    goals: tuple[Practice, ...]
    mark: ReviewMark | None = None


@dataclass(frozen=True, slots=True)
class CentrePlan:
    """A centre in the plan; `centre` is None for needs of no centre. Pieces `needed` and `placed`."""

    centre: LearningCentre | None
    activities: tuple[PlannedView, ...]
    needs: tuple[PlannedMaterial, ...]
    placed: Decimal

    @property
    def needed(self) -> Decimal:
        return sum((need.quantity for need in self.needs), NOTHING)


def frameworks_of(provider: Provider) -> tuple[Framework, ...]:
    """All frameworks with the owner's goals among them, those of her region first. One query."""
    rows = OwnGoal.objects.filter(provider=provider).order_by("domain", "title")
    own = [Own(row.code, row.domain, row.title) for row in rows]
    return with_own(own, f"{provider.country}-{provider.region}", word=_("Goals of my own"))


def titles_of(frameworks: Iterable[Framework]) -> dict[str, str]:
    """The title of each goal by its code."""
    return {goal.code: goal.title for each in frameworks for goal in each.goals}


def plan_of(run: ThemeRun) -> tuple[CentrePlan, ...]:
    """The plan centre by centre in the order of the walk, needs of no centre last. Seven queries at most."""
    titles = titles_of(frameworks_of(run.provider))
    rows = PLANNED.filter(run=run).select_related("activity").prefetch_related("activity__goals").order_by("pk")
    marks = {mark.activity_id: mark for mark in ReviewMark.objects.filter(run=run.started_from_id)}
    activities: dict[int, list[PlannedView]] = defaultdict(list)
    for row in rows:
        goals = practices(row.activity.goals.all(), titles)
        activities[row.centre_id].append(PlannedView(row, goals, marks.get(row.activity_id)))
    needs: dict[int | None, list[PlannedMaterial]] = defaultdict(list)
    wanted = PlannedMaterial.objects.filter(run=run, voided_at__isnull=True).select_related("material")
    for need in wanted.order_by("material__name", "pk"):
        needs[need.centre_id].append(need)
    placed = dict(
        Placement.objects.filter(run=run, voided_at__isnull=True)
        .values_list("centre")
        .annotate(Sum("quantity"))
        .order_by()
    )
    plans = [
        CentrePlan(centre, tuple(activities[centre.pk]), tuple(needs[centre.pk]), placed.get(centre.pk, NOTHING))
        for centre in centres_of(run)
    ]
    if needs[None]:
        plans.append(CentrePlan(None, (), tuple(needs[None]), NOTHING))
    return tuple(plans)


def practices(goals: Iterable[ActivityGoal], titles: Mapping[str, str]) -> tuple[Practice, ...]:
    """Goals in words, the main ones first."""
    known = [Practice(row.goal, titles.get(row.goal, row.goal), row.is_main) for row in goals]
    return tuple(sorted(known, key=lambda each: (not each.is_main, each.title)))


@dataclass(frozen=True, slots=True)
class Idea:
    """An activity of the library: its goals, where it was planned (the latest first) and the verdicts on it by run."""

    activity: Activity
    goals: tuple[Practice, ...]
    planned: tuple[PlannedActivity, ...]
    marks: tuple[ReviewMark, ...]

    @property
    def past(self) -> list[tuple[PlannedActivity, ReviewMark | None]]:
        verdicts = {mark.run_id: mark for mark in self.marks}
        return [(each, verdicts.get(each.run_id)) for each in self.planned]


def find_activities(provider: Provider, word: str = "") -> QuerySet[Activity]:
    """Activities by name, found by words in their name, note, source or licence, or in a goal."""
    found = Activity.objects.filter(provider=provider)
    titles = titles_of(frameworks_of(provider)) if word else {}
    for part in word.split():
        codes = [code for code, title in titles.items() if part.casefold() in f"{code} {title}".casefold()]
        found = found.filter(
            Q(name__icontains=part)
            | Q(note__icontains=part)
            | Q(source__icontains=part)
            | Q(licence__icontains=part)
            | Q(pk__in=ActivityGoal.objects.filter(goal__in=codes).values("activity"))
        )
    return found.order_by("name")


def ideas(provider: Provider, activities: QuerySet[Activity]) -> list[Idea]:
    """Activities with all that is known of them. Five queries."""
    live = PLANNED.filter(run__voided_at__isnull=True).select_related("run__theme", "centre").order_by("-run__start")
    rows = activities.prefetch_related(
        "goals",
        Prefetch("planned", queryset=live),
        Prefetch("marks", queryset=ReviewMark.objects.filter(run__voided_at__isnull=True)),
    )
    titles = titles_of(frameworks_of(provider))
    return [
        Idea(row, practices(row.goals.all(), titles), tuple(row.planned.all()), tuple(row.marks.all())) for row in rows
    ]


@dataclass(frozen=True, slots=True)
class Picture:
    """A coverage with short words over its columns and their full names. `children` are there in that time."""

    coverage: Coverage
    heads: tuple[str, ...]
    names: tuple[str, ...]
    choices: tuple[Framework, ...]
    children: int

    @property
    def empty(self) -> list[str]:
        names = dict(zip(self.coverage.columns, self.names, strict=True))
        return [names[column] for column in self.coverage.empty_columns]


def coverage_of_run(run: ThemeRun, framework: str = "") -> Picture:
    """What a run practises centre by centre, for the ages enrolled during it. Five queries."""
    centres = list(centres_of(run))
    practised = [
        Practised(planned.centre_id, goal.goal, goal.is_main)
        for planned in PLANNED.filter(run=run).select_related("activity").prefetch_related("activity__goals")
        for goal in planned.activity.goals.all()
    ]
    columns = [(centre.pk, centre.name, centre.name) for centre in centres]
    return _picture(run.provider, columns, practised, run.span, framework)


def coverage_of_year(provider: Provider, year: int, framework: str = "") -> Picture:
    """What the runs that start in a year practise, run by run, for the ages enrolled in it. Five queries."""
    runs = list(ThemeRun.objects.live().filter(provider=provider, start__year=year).select_related("theme"))
    rows = PLANNED.filter(run__in=runs).select_related("activity").prefetch_related("activity__goals")
    practised = [
        Practised(planned.run_id, goal.goal, goal.is_main) for planned in rows for goal in planned.activity.goals.all()
    ]
    columns = [(run.pk, date_format(run.start, "M"), run.theme.name) for run in sorted(runs, key=lambda run: run.start)]
    return _picture(provider, columns, practised, DateSpan.year(year), framework)


def coverage_years(provider: Provider) -> list[int]:
    """The years in which runs start."""
    return [day.year for day in ThemeRun.objects.live().filter(provider=provider).dates("start", "year")]


def ages_in(provider: Provider, span: DateSpan) -> list[Ages]:
    """The ages that the children go through who are there during a closed span: enrolled, or the provider's own."""
    enrolled = meets(span, of="enrolments__")
    children = Child.objects.filter(Q(is_own_child=True) | enrolled, provider=provider, birth_date__lte=span.last_day)
    births: Iterable[date] = [child.birth_date for child in children.distinct().only("birth_date")]
    return [Ages(age_in_months(born, span.start), age_in_months(born, span.last_day)) for born in births]


def _picture(
    provider: Provider,
    columns: Sequence[tuple[int, str, str]],
    practised: Sequence[Practised],
    span: DateSpan,
    wanted: str,
) -> Picture:
    choices = frameworks_of(provider)
    ages = ages_in(provider, span)
    chosen = next((each for each in choices if each.code == wanted), None) or _most_used(choices, practised)
    found = coverage(chosen, [column for column, _head, _name in columns], practised, ages)
    heads, names = tuple(head for _pk, head, _name in columns), tuple(name for _pk, _head, name in columns)
    return Picture(found, heads, names, choices, len(ages))


def _most_used(choices: Sequence[Framework], practised: Iterable[Practised]) -> Framework:
    """The framework whose goals are practised most; the first, which is that of the region, when there is a tie."""
    codes = [each.goal for each in practised]
    known = [(framework, {goal.code for goal in framework.goals}) for framework in choices]
    return max(known, key=lambda each: sum(code in each[1] for code in codes))[0]
