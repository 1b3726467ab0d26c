"""The stock of lots, in a constant number of queries for any number of them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet, Sum

from curriculum.costing import Shelf, Used
from curriculum.models import Acquisition, ComponentUse, Keeping, Material, Placement, PutAway, ThemeRun
from curriculum.reuse import LotReuse, RunReuse
from curriculum.stock import NOTHING, Count, Spread, Stock


@dataclass(frozen=True, slots=True)
class LotView:
    """A lot as it stands: `lying` are its placements with pieces out, `life` the reuse charges of a durable lot."""

    lot: Acquisition
    stock: Stock
    lying: tuple[Placement, ...]
    runs: tuple[Placement, ...]
    life: LotReuse | None
    value_left: Decimal

    @property
    def charges(self) -> list[tuple[ThemeRun, RunReuse | None]]:
        """What each run bears of a durable lot."""
        return [(each.run, self.life.of_run(each.run_id)) for each in self.runs] if self.life else []


def count_of(row: PutAway) -> Count:
    """A row of `counts_of` as a count. What was mended came back after all."""
    mended = row.mended or NOTHING
    return Count(row.returned + mended, row.broken - mended, row.missing, row.used_up)


def with_mended(counts: QuerySet[PutAway]) -> QuerySet[PutAway]:
    """Counts with the pieces that were mended since."""
    return counts.annotate(mended=Sum("broken_things__mended"))  # type: ignore[no-redef]  # declared on the model


def counts_of(placements: Iterable[Placement]) -> Mapping[int, list[PutAway]]:
    """The put-away counts of each placement, by its id, in order of day, with what was mended since."""
    counts: dict[int, list[PutAway]] = defaultdict(list)
    rows = with_mended(PutAway.objects.filter(placement__in=list(placements), voided_at__isnull=True))
    for row in rows.order_by("on", "pk"):
        counts[row.placement_id].append(row)
    return counts


def spread_of(placement: Placement, counts: Iterable[PutAway]) -> Spread:
    return Spread(placement.run_id, placement.run.start, placement.quantity, tuple(map(count_of, counts)))


def stocks_of(lots: Iterable[Acquisition]) -> dict[int, Stock]:
    """The stock of each lot, by its id, with all its runs. Three queries, when lots know their material.

    It reads bare figures: a few lots over many years are thousands of rows.
    """
    lots = list(lots)
    placed = list(_placements(lots).values_list("pk", "lot_id", "run_id", "run__start", "quantity"))
    counts = _figures(lots) if placed else {}
    spreads: dict[int, list[Spread]] = defaultdict(list)
    for pk, lot_id, run_id, start, quantity in placed:
        spreads[lot_id].append(Spread(run_id, start, quantity, tuple(counts.get(pk, ()))))
    used = _used(lots)
    return {lot.pk: _stock(lot, spreads[lot.pk], used[lot.pk]) for lot in lots}


def _figures(lots: Sequence[Acquisition]) -> Mapping[int, list[Count]]:
    """The counts of the lots' placements, by the placement's id, in order of day."""
    counts: dict[int, list[Count]] = defaultdict(list)
    rows = with_mended(PutAway.objects.filter(placement__lot__in=lots, voided_at__isnull=True)).order_by("on", "pk")
    figures = ("placement_id", "returned", "broken", "missing", "used_up", "mended")
    for row in rows.values_list(*figures, named=True):
        counts[row.placement_id].append(count_of(row))
    return counts


def stock_of(lot: Acquisition) -> Stock:
    return stocks_of([lot])[lot.pk]


def on_hand_of(materials: Iterable[Material]) -> dict[int, Decimal]:
    """Pieces on hand of each material, by its id, over all its lots."""
    pieces = {material.pk: NOTHING for material in materials}
    lots = Acquisition.objects.filter(material__in=list(pieces), voided_at__isnull=True).select_related("material")
    stocks = stocks_of(lots)
    for lot in lots:
        pieces[lot.material_id] += stocks[lot.pk].on_hand
    return pieces


def shelf_of(lot: Acquisition, stock: Stock, day: date) -> Shelf:
    """What of a lot with that stock can go into something home-made on `day`."""
    return stock.shelf(lot.pk, lot.on, day, lot.basis, lot.expected_uses, lot.residual)


def shelves_of(materials: Iterable[int], day: date) -> dict[int, list[Shelf]]:
    """What can go into something home-made on `day`, by the material's id. Four queries."""
    there = Acquisition.objects.filter(material__in=list(materials), voided_at__isnull=True, on__lte=day)
    lots = list(there.select_related("material").order_by("on", "pk"))
    stocks = stocks_of(lots)
    shelves: dict[int, list[Shelf]] = defaultdict(list)
    for lot in lots:
        shelves[lot.material_id].append(shelf_of(lot, stocks[lot.pk], day))
    return shelves


def lots_of(material: Material) -> QuerySet[Acquisition]:
    """The lots of a material, the latest first."""
    lots = Acquisition.objects.filter(material=material, voided_at__isnull=True)
    return lots.select_related("material").order_by("-on", "-pk")


def lot_views(lots: Iterable[Acquisition], today: date) -> list[LotView]:
    """Lots as they stand today: runs to come bear nothing yet. Three queries, when lots know their material."""
    lots = list(lots)
    placements = [placement for placement in _placements(lots) if placement.run.start <= today]
    counts = counts_of(placements)
    used = _used(lots)
    views = []
    for lot in lots:
        runs = tuple(placement for placement in placements if placement.lot_id == lot.pk)
        spreads = [spread_of(placement, counts[placement.pk]) for placement in runs]
        stock = _stock(lot, spreads, used[lot.pk])
        views.append(
            LotView(
                lot,
                stock,
                tuple(placement for placement, spread in zip(runs, spreads, strict=True) if spread.still_out),
                runs,
                None if stock.is_consumable else stock.life(lot.basis, lot.expected_uses, lot.residual),
                stock.value_left(lot.basis, lot.expected_uses, lot.residual),
            )
        )
    return views


def _placements(lots: Sequence[Acquisition]) -> QuerySet[Placement]:
    placements = Placement.objects.filter(lot__in=lots, voided_at__isnull=True)
    return placements.select_related("run__theme", "centre").order_by("run__start", "pk")


def _used(lots: Sequence[Acquisition]) -> Mapping[int, list[Used]]:
    """What of each lot went into something home-made, by the lot's id, in order of day."""
    used: dict[int, list[Used]] = defaultdict(list)
    uses = ComponentUse.objects.filter(lot__in=lots, making__voided_at__isnull=True).select_related("making")
    for use in uses.order_by("making__on", "making_id"):
        used[use.lot_id].append(Used(use.making_id, use.making.on, use.quantity, use.cost))
    return used


def _stock(lot: Acquisition, spreads: Iterable[Spread], used: Iterable[Used]) -> Stock:
    return Stock(lot.quantity, lot.material.keeping == Keeping.CONSUMABLE, tuple(spreads), tuple(used))
