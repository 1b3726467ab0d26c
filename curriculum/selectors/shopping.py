"""The shopping list of a run: what is on it, what the needs ask for yet, and what is left of the budget."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby

from django.db.models import QuerySet

from curriculum import hooks
from curriculum.models import Acquisition, How, Keeping, Material, Placement, PlannedMaterial, ShoppingItem, ThemeRun
from curriculum.selectors.mending import Breakage, broken_before
from curriculum.selectors.setting_up import Supply, needs_of, supply_of
from curriculum.stock import NOTHING
from curriculum.supply import to_buy
from provider.models import Provider
from provider.money import ZERO, round_half_up

BOUGHT = (How.BOUGHT, How.SECOND_HAND)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """What the needs of a run ask for beyond stock and list. `estimate` and `shop` are those of the last one bought."""

    material: Material
    needed: Decimal
    have: Decimal
    coming: Decimal
    quantity: Decimal
    estimate: Decimal | None
    shop: str
    breakage: Breakage | None


@dataclass(frozen=True, slots=True)
class Entry:
    """An item with what broke of its material before."""

    item: ShoppingItem
    breakage: Breakage | None


@dataclass(frozen=True, slots=True)
class Shopping:
    """`by_shop` is what is to be bought yet, ordered or not. `estimated` adds up its estimates; `unpriced` have none.

    `spent` is what the run cost so far, None when nobody keeps costs; `left` is None without a budget or costs.
    """

    run: ThemeRun
    suggestions: tuple[Suggestion, ...]
    by_shop: tuple[tuple[str, tuple[Entry, ...]], ...]
    bought: tuple[Entry, ...]
    estimated: Decimal
    unpriced: int
    spent: Decimal | None

    @property
    def left(self) -> Decimal | None:
        if self.run.budget is None or self.spent is None:
            return None
        return self.run.budget - self.spent - self.estimated

    @property
    def is_over(self) -> bool:
        return self.left is not None and self.left < 0


def items_of(run: ThemeRun) -> QuerySet[ShoppingItem]:
    items = ShoppingItem.objects.filter(run=run, voided_at__isnull=True).select_related("material", "run__provider")
    return items.order_by("shop", "text", "pk")


def shopping_of(run: ThemeRun, today: date) -> Shopping:
    """The list of a run as it stands. Eleven queries, and what the cost of the run takes."""
    needs, items = needs_of(run), list(items_of(run))
    supply = supply_of({need.material_id for need in needs}, run)
    gaps = _gaps(run, needs, items, supply)
    last = _last_bought({need.material_id for need in needs})
    materials = {gap.material for gap in gaps} | {item.material for item in items if item.material}
    broke = broken_before(materials)
    entries = [Entry(item, broke.get(item.material_id or 0)) for item in items]
    open_ = [entry for entry in entries if entry.item.bought_on is None]
    return Shopping(
        run,
        tuple(_suggest(gap, last.get(gap.material.pk), broke.get(gap.material.pk)) for gap in gaps),
        tuple((shop, tuple(of_shop)) for shop, of_shop in groupby(open_, key=lambda entry: entry.item.shop)),
        tuple(entry for entry in entries if entry.item.bought_on),
        sum((entry.item.estimate or ZERO for entry in open_), ZERO),
        sum(entry.item.estimate is None for entry in open_),
        sum((cost(run, today) for cost in hooks.cost_so_far), ZERO) if hooks.cost_so_far else None,
    )


def suggestions_of(run: ThemeRun) -> list[Suggestion]:
    """What the needs ask for beyond stock and list."""
    needs = needs_of(run)
    ids = {need.material_id for need in needs}
    gaps = _gaps(run, needs, list(items_of(run)), supply_of(ids, run))
    last = _last_bought(ids)
    return [_suggest(gap, last.get(gap.material.pk), None) for gap in gaps]


def items_to_file(provider: Provider, ids: Sequence[str]) -> list[ShoppingItem]:
    """The items with these public ids that start a receipt, in the order of the list."""
    items = ShoppingItem.objects.filter(provider=provider, public_id__in=ids, voided_at__isnull=True)
    return list(items.select_related("material", "run").order_by("shop", "text", "pk"))


@dataclass(frozen=True, slots=True)
class _Gap:
    material: Material
    needed: Decimal
    have: Decimal
    coming: Decimal

    @property
    def quantity(self) -> Decimal:
        return to_buy(self.needed, self.have, self.coming)


def _gaps(run: ThemeRun, needs: Iterable[PlannedMaterial], items: Iterable[ShoppingItem], supply: Supply) -> list[_Gap]:
    """Materials of which more is needed than there is or will come, by name."""
    needed: dict[Material, Decimal] = defaultdict(Decimal)
    for need in needs:
        needed[need.material] += need.quantity
    placed: dict[int, Decimal] = defaultdict(Decimal)
    out = Placement.objects.filter(run=run, voided_at__isnull=True)
    for material, quantity in out.values_list("lot__material", "quantity"):
        placed[material] += quantity
    coming: dict[int, Decimal] = defaultdict(Decimal)
    for item in items:
        if item.material_id and _is_coming(item, supply.lots.get(item.material_id, ())):
            coming[item.material_id] += item.quantity
    gaps = [
        _Gap(material, quantity, _have(material, supply, placed[material.pk]), coming[material.pk])
        for material, quantity in sorted(needed.items(), key=lambda each: each[0].name)
    ]
    return [gap for gap in gaps if gap.quantity]


def _have(material: Material, supply: Supply, placed: Decimal) -> Decimal:
    """What serves the run: of what is used up, what it took already and what is free; else what is on hand."""
    if material.keeping == Keeping.CONSUMABLE:
        free = (supply.stocks[lot.pk].free for lot in supply.lots.get(material.pk, ()))
        return placed + sum(free, NOTHING)
    return max(supply.on_hand(material.pk), placed)


def _is_coming(item: ShoppingItem, lots: Iterable[Acquisition]) -> bool:
    """Whether an item is not in stock yet: not bought, or bought and no lot came since."""
    return item.bought_on is None or all(lot.on < item.bought_on for lot in lots)


def _last_bought(materials: Iterable[int]) -> dict[int, Acquisition]:
    lots = Acquisition.objects.filter(material__in=set(materials), how__in=BOUGHT, voided_at__isnull=True)
    return {lot.material_id: lot for lot in lots.order_by("on", "pk")}


def _suggest(gap: _Gap, last: Acquisition | None, breakage: Breakage | None) -> Suggestion:
    estimate = round_half_up(last.basis * gap.quantity / last.quantity) if last and last.basis else None
    shop = last.source if last else ""
    return Suggestion(gap.material, gap.needed, gap.have, gap.coming, gap.quantity, estimate, shop, breakage)
