"""What a run taught: the verdicts on its activities and materials, and the list that next year's run starts from."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from curriculum.models import (
    Activity,
    LearningCentre,
    Material,
    Placement,
    PlannedActivity,
    PlannedMaterial,
    ReviewMark,
    RunReview,
    ThemeRun,
    Verdict,
)
from curriculum.selectors.mending import Breakage, broken_before


@dataclass(frozen=True, slots=True)
class Thing:
    """An activity or a material of a run with what was said of it. `breakage` is what broke of a material so far."""

    thing: Activity | Material
    mark: ReviewMark | None
    breakage: Breakage | None = None


@dataclass(frozen=True, slots=True)
class LookingBack:
    review: RunReview | None
    activities: tuple[Thing, ...]
    materials: tuple[Thing, ...]

    @property
    def things(self) -> tuple[Thing, ...]:
        return (*self.activities, *self.materials)


def looking_back_on(run: ThemeRun) -> LookingBack:
    """What was planned or lay out in a run, by name, with its verdicts. Six queries."""
    marks = list(ReviewMark.objects.filter(run=run))
    of_activity = {mark.activity_id: mark for mark in marks if mark.activity_id}
    of_material = {mark.material_id: mark for mark in marks if mark.material_id}
    planned = Q(planned__run=run, planned__voided_at__isnull=True)
    activities = Activity.objects.filter(planned | Q(pk__in=of_activity), provider=run.provider)
    placed = Q(lots__placements__run=run, lots__placements__voided_at__isnull=True)
    needed = Q(needs__run=run, needs__voided_at__isnull=True)
    wanted = Material.objects.filter(placed | needed | Q(pk__in=of_material), provider=run.provider)
    materials = list(wanted.distinct().order_by("name"))
    broke = broken_before(materials)
    return LookingBack(
        RunReview.objects.filter(run=run).first(),
        tuple(Thing(each, of_activity.get(each.pk)) for each in activities.distinct().order_by("name")),
        tuple(Thing(each, of_material.get(each.pk), broke.get(each.pk)) for each in materials),
    )


@dataclass(frozen=True, slots=True)
class Kept:
    """An activity or a need that next year's run starts with, and what was said of it."""

    row: PlannedActivity | PlannedMaterial
    mark: ReviewMark | None


@dataclass(frozen=True, slots=True)
class CentreList:
    centre: LearningCentre | None
    activities: tuple[Kept, ...]
    needs: tuple[Kept, ...]


@dataclass(frozen=True, slots=True)
class Unplanned:
    """What lay out in a run without having been planned."""

    material: Material
    centre: LearningCentre | None
    quantity: Decimal
    used_as: str


@dataclass(frozen=True, slots=True)
class StartingList:
    """What `services.runs.copy_plan` takes over into a run that starts from this one, centre by centre.

    `dropped` stays behind; `unplanned` lay out, but would not be taken over.
    """

    review: RunReview | None
    centres: tuple[CentreList, ...]
    dropped: tuple[ReviewMark, ...]
    unplanned: tuple[Unplanned, ...]


def starting_list(run: ThemeRun) -> StartingList:
    """Five queries."""
    marks = list(ReviewMark.objects.filter(run=run).select_related("activity", "material").order_by("pk"))
    of_activity = {mark.activity_id: mark for mark in marks if mark.activity_id}
    of_material = {mark.material_id: mark for mark in marks if mark.material_id}
    dropped = [mark for mark in marks if mark.verdict == Verdict.DROP]
    walk = ("centre__position", "centre__name")
    alive = Q(centre__retired_at__isnull=True, voided_at__isnull=True, run=run)
    activities = PlannedActivity.objects.filter(alive).select_related("centre", "activity")
    needs = PlannedMaterial.objects.filter(alive).select_related("centre", "material")
    by_centre: dict[LearningCentre | None, tuple[list[Kept], list[Kept]]] = defaultdict(lambda: ([], []))
    for each in activities.order_by(*walk, "activity__name"):
        if (mark := of_activity.get(each.activity_id)) not in dropped:
            by_centre[each.centre][0].append(Kept(each, mark))
    planned = list(needs.order_by(*walk, "material__name"))
    for need in planned:
        if (mark := of_material.get(need.material_id)) not in dropped:
            by_centre[need.centre][1].append(Kept(need, mark))
    centres = sorted(
        by_centre, key=lambda each: (each is None, each.position if each else 0, each.name if each else "")
    )
    return StartingList(
        RunReview.objects.filter(run=run).first(),
        tuple(CentreList(centre, tuple(by_centre[centre][0]), tuple(by_centre[centre][1])) for centre in centres),
        tuple(dropped),
        tuple(_unplanned(run, {need.material_id for need in planned} | {mark.material_id for mark in dropped})),
    )


def unplanned_of(run: ThemeRun) -> list[Unplanned]:
    """What lay out in a run without having been planned, nor dropped. Three queries."""
    needed = PlannedMaterial.objects.filter(run=run, voided_at__isnull=True).values_list("material", flat=True)
    dropped = ReviewMark.objects.filter(run=run, verdict=Verdict.DROP).values_list("material", flat=True)
    return _unplanned(run, {*needed, *dropped})


def _unplanned(run: ThemeRun, but: Iterable[int | None]) -> list[Unplanned]:
    """The materials that lay out, each once a centre with the pieces of all its lots."""
    found: dict[tuple[int, int | None], Unplanned] = {}
    placements = Placement.objects.filter(run=run, voided_at__isnull=True).exclude(
        lot__material__in=[pk for pk in but if pk]
    )
    for each in placements.select_related("lot__material", "centre").order_by("lot__material__name", "pk"):
        key = each.lot.material_id, each.centre_id
        before = found.get(key)
        found[key] = Unplanned(
            each.lot.material,
            each.centre,
            each.quantity + (before.quantity if before else 0),
            (before.used_as if before else "") or each.used_as,
        )
    return list(found.values())
