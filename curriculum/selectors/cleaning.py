"""What is to be cleaned."""

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet
from django.utils import timezone

from curriculum.cleaning import due_on
from curriculum.models import CleaningRoutine, Material, Placement
from curriculum.selectors.stock import counts_of, spread_of
from provider.models import Provider


@dataclass(frozen=True, slots=True)
class Cleaning:
    """A routine with the day from which it is due; None when nothing asks for it, as while it rests in its bin."""

    routine: CleaningRoutine
    due_on: date | None
    is_resting: bool = False

    def is_due(self, today: date) -> bool:
        return self.due_on is not None and self.due_on <= today


def routines_of(material: Material) -> QuerySet[CleaningRoutine]:
    return CleaningRoutine.objects.filter(material=material, voided_at__isnull=True).order_by("pk")


def cleanings(provider: Provider, today: date) -> list[Cleaning]:
    """All routines, the longest due first, then those that come, then those at rest. Three queries.

    A thing that takes its turns in runs is cleaned by days only while it lies out.
    """
    routines = list(
        CleaningRoutine.objects.filter(provider=provider, voided_at__isnull=True)
        .select_related("material__bin")
        .order_by("material__name", "pk")
    )
    placements = list(
        Placement.objects.filter(lot__material__cleaning__in=routines, voided_at__isnull=True, run__start__lte=today)
        .select_related("run", "lot")
        .distinct()
    )
    counts = counts_of(placements)
    out: dict[int, bool] = {}
    used: dict[int, date] = {}
    for placement in placements:
        material = placement.lot.material_id
        out[material] = out.get(material, False) or bool(spread_of(placement, counts[placement.pk]).still_out)
        for count in counts[placement.pk]:
            if count.returned and not count.washed:
                used[material] = max(count.on, used.get(material, date.min))
    found = [_cleaning(routine, out, used.get(routine.material_id), provider) for routine in routines]
    return sorted(found, key=lambda each: (each.is_resting, each.due_on is None, each.due_on or date.max))


def due_cleanings(provider: Provider, today: date) -> list[Cleaning]:
    return [each for each in cleanings(provider, today) if each.is_due(today)]


def _cleaning(routine: CleaningRoutine, out: dict[int, bool], used: date | None, provider: Provider) -> Cleaning:
    if routine.every_days and not out.get(routine.material_id, True):
        return Cleaning(routine, None, is_resting=True)
    since = timezone.localtime(routine.created_at, provider.zone).date()
    return Cleaning(routine, due_on(routine.every_days, since=since, last_done=routine.last_done_on, last_used=used))
