"""Broken pieces: what is to become of them, and how things broke before."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import F, Q, QuerySet, Sum

from curriculum.models import BrokenThing, Material, Placement, PutAway
from curriculum.stock import NOTHING
from provider.models import Provider

# Both by name: the lot's receipt is asked for through the reverse relation, as curriculum knows no receipts.
_OF_COUNT = ("placement__run__theme", "placement__centre", "placement__lot__material")
_RECEIPTS = "placement__lot__receipt_lines__receipt"


def broken_things(provider: Provider) -> QuerySet[BrokenThing]:
    """What was broken, with its count, run, lot and the lot's receipts, the latest first."""
    rows = BrokenThing.objects.filter(provider=provider, put_away__voided_at__isnull=True)
    return (
        rows.select_related(*(f"put_away__{name}" for name in _OF_COUNT))
        .prefetch_related(f"put_away__{_RECEIPTS}")
        .order_by("-put_away__on", "-pk")
    )


@dataclass(frozen=True, slots=True)
class Undecided:
    """A count with broken pieces of which nobody said what is to become; `left` of them."""

    count: PutAway
    left: Decimal


def undecided(provider: Provider) -> list[Undecided]:
    """Counts with broken pieces that wait for a plan, the latest first. One query."""
    counts = PutAway.objects.filter(provider=provider, voided_at__isnull=True, broken__gt=0)
    counts = counts.annotate(planned=Sum("broken_things__quantity"))
    counts = counts.filter(Q(planned=None) | Q(planned__lt=F("broken")))
    return [
        Undecided(count, count.broken - (count.planned or NOTHING))
        for count in counts.select_related(*_OF_COUNT).order_by("-on", "-pk")
    ]


def waits_for_plan(count: PutAway) -> Decimal:
    """Broken pieces of a count of which nobody said what is to become."""
    planned = BrokenThing.objects.filter(put_away=count).aggregate(sum=Sum("quantity"))["sum"]
    return count.broken - (planned or NOTHING)


@dataclass(frozen=True, slots=True)
class Breakage:
    """What broke of a material so far: `pieces` in `times` counts, `hows` in the owner's words, the latest first."""

    pieces: Decimal = NOTHING
    times: int = 0
    hows: tuple[str, ...] = ()


def broken_before(materials: Iterable[Material]) -> dict[int, Breakage]:
    """What broke before of each material that ever broke, by its id. Two queries."""
    ids = [material.pk for material in materials]
    found: dict[int, Breakage] = defaultdict(Breakage)
    counts = PutAway.objects.filter(
        placement__lot__material__in=ids, placement__lot__voided_at__isnull=True, voided_at__isnull=True, broken__gt=0
    )
    notes = counts.order_by("-on", "-pk").values_list("placement__lot__material", "broken", "note")
    for material, pieces, note in notes:
        so_far = found[material]
        hows = (*so_far.hows, note) if note else so_far.hows
        found[material] = replace(so_far, pieces=so_far.pieces + pieces, times=so_far.times + 1, hows=hows)
    told = BrokenThing.objects.filter(put_away__in=counts.values("pk")).exclude(how="").order_by("put_away__on", "pk")
    for material, how in told.values_list("put_away__placement__lot__material", "how"):
        found[material] = replace(found[material], hows=(how, *found[material].hows))
    return {pk: replace(each, hows=tuple(dict.fromkeys(each.hows))) for pk, each in found.items()}


def past_lives(material: Material) -> QuerySet[Placement]:
    """When and where a material lay out, and what it stood for, the latest first."""
    placements = Placement.objects.filter(lot__material=material, voided_at__isnull=True, lot__voided_at__isnull=True)
    return placements.select_related("run__theme", "centre").order_by("-run__start", "pk")
