"""Home-made things: recipes with what they cost today, what a making would use, and what the roster asks for."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef, QuerySet

from curriculum.costing import Method, Shelf, on_shelves, take
from curriculum.models import (
    Acquisition,
    Making,
    MarkedPiece,
    Material,
    PieceState,
    PieceText,
    Placement,
    PlayroomChoices,
    Recipe,
    RecipeLine,
)
from curriculum.recipes import Line, MakeOrBuy, Remake, make_or_buy, need, needs, remake
from curriculum.selectors.stock import on_hand_of, shelves_of
from provider.models import Child, Provider
from provider.models.base import holds_on
from provider.money import ZERO, round_half_up, split

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Component:
    """What a making needs of a material, and what there is. `cost` is None for what has never been in stock.

    What is short is priced like the latest lot.
    """

    material: Material
    needed: Decimal
    held: Decimal
    cost: Decimal | None
    waste: Decimal = NOTHING
    child_specific: bool = False

    @property
    def short(self) -> Decimal:
        return max(self.needed - self.held, NOTHING)


@dataclass(frozen=True, slots=True)
class RecipeView:
    """A recipe as it stands on a day: its components for one batch, and one piece made or bought.

    `made` of its pieces are on hand; `unpriced` says that a component has no price yet.
    """

    recipe: Recipe
    components: tuple[Component, ...]
    cost: Decimal
    compared: MakeOrBuy
    made: Decimal

    @property
    def unpriced(self) -> bool:
        return any(each.cost is None for each in self.components)

    @property
    def child_specific(self) -> Decimal:
        """Cost of what is used again whenever the roster changes, for one batch."""
        return sum((each.cost or ZERO for each in self.components if each.child_specific), ZERO)


@dataclass(frozen=True, slots=True)
class MakingPlan:
    """What a making would use, material by material."""

    components: tuple[Component, ...]
    quantity: Decimal

    @property
    def short(self) -> tuple[Component, ...]:
        return tuple(each for each in self.components if each.short)

    @property
    def cost(self) -> Decimal:
        return sum((each.cost or ZERO for each in self.components), ZERO)

    @property
    def cost_per_piece(self) -> Decimal:
        return round_half_up(self.cost / self.quantity)


@dataclass(frozen=True, slots=True)
class RemakeList:
    """What a roster asks for of one recipe, and what making it will use up."""

    recipe: Recipe
    plan: Remake
    uses: tuple[Component, ...]

    @property
    def is_needed(self) -> bool:
        return bool(self.plan.make or self.plan.bring_out or self.plan.put_by)


def choices_of(provider: Provider) -> PlayroomChoices:
    """The owner's choices, or those that hold until she makes any (not saved)."""
    return PlayroomChoices.objects.filter(provider=provider).first() or PlayroomChoices(provider=provider)


def method_of(provider: Provider) -> Method:
    return Method(choices_of(provider).cost_method)


def current_recipes(provider: Provider) -> QuerySet[Recipe]:
    """The newest edition of each recipe, by name."""
    newer = Recipe.objects.filter(product=OuterRef("product"), edition__gt=OuterRef("edition"))
    recipes = Recipe.objects.filter(~Exists(newer), provider=provider)
    return recipes.select_related("product").order_by("product__name")


def newest_edition(recipe: Recipe) -> Recipe:
    editions = Recipe.objects.filter(product=recipe.product_id).select_related("product", "provider")
    return editions.order_by("-edition").first() or recipe


def lines_of(recipes: Iterable[Recipe]) -> Mapping[int, list[RecipeLine]]:
    """The lines of each recipe, by its id, in the order they were written."""
    lines: dict[int, list[RecipeLine]] = defaultdict(list)
    for line in RecipeLine.objects.filter(recipe__in=list(recipes)).select_related("material").order_by("pk"):
        lines[line.recipe_id].append(line)
    return lines


def needs_of(
    recipe: Recipe, lines: Iterable[RecipeLine], quantity: Decimal, *, only_child_specific: bool = False
) -> Mapping[Material, Decimal]:
    """What `quantity` pieces need of each material."""
    return needs(map(_line, lines), recipe.makes, quantity, only_child_specific=only_child_specific)


def recipe_views(provider: Provider, recipes: Iterable[Recipe], day: date) -> list[RecipeView]:
    """Recipes as they stand on a day. The same number of queries for any number of recipes."""
    recipes = list(recipes)
    lines = lines_of(recipes)
    market = _Market.of(provider, {line.material_id for each in lines.values() for line in each}, day)
    made = on_hand_of({recipe.product_id: recipe.product for recipe in recipes}.values())
    views = []
    for recipe in recipes:
        components = _components_of_a_batch(recipe, lines[recipe.pk], market)
        cost = sum((each.cost or ZERO for each in components), ZERO)
        compared = make_or_buy(
            cost, recipe.makes, recipe.minutes, bought=recipe.bought_price, rate=provider.hourly_value
        )
        views.append(RecipeView(recipe, components, cost, compared, made[recipe.product_id]))
    return views


def making_plan(
    provider: Provider, recipe: Recipe, quantity: Decimal, day: date, *, only_child_specific: bool = False
) -> MakingPlan:
    """What making so many pieces on a day would use."""
    wanted = needs_of(recipe, lines_of([recipe])[recipe.pk], quantity, only_child_specific=only_child_specific)
    market = _Market.of(provider, {material.pk for material in wanted}, day)
    return MakingPlan(tuple(market.component(material, amount) for material, amount in wanted.items()), quantity)


def remake_lists(provider: Provider, day: date) -> list[RemakeList]:
    """What the roster of a day asks for, recipe by recipe. The same number of queries for any number of recipes."""
    recipes = list(current_recipes(provider).exclude(pieces=PieceText.SHARED))
    plans = _plans(provider, recipes, day)
    lines = lines_of(recipes)
    market = _Market.of(provider, {line.material_id for each in lines.values() for line in each}, day)
    lists = []
    for recipe in recipes:
        plan = plans[recipe.pk]
        wanted = (
            needs_of(recipe, lines[recipe.pk], Decimal(len(plan.make)), only_child_specific=True) if plan.make else {}
        )
        uses = tuple(market.component(material, amount) for material, amount in wanted.items())
        lists.append(RemakeList(recipe, plan, uses))
    return lists


def texts_to_make(recipe: Recipe, day: date) -> tuple[str, ...]:
    """The letters or names that the roster of a day asks for and no piece carries."""
    return _plans(recipe.provider, [recipe], day)[recipe.pk].make


def missing_pieces(provider: Provider, day: date) -> Mapping[Recipe, int]:
    """How many pieces the roster of a day misses, of recipes that were made before. One query when there are none."""
    recipes = list(
        current_recipes(provider)
        .exclude(pieces=PieceText.SHARED)
        .filter(Exists(MarkedPiece.objects.filter(lot__material=OuterRef("product"), lot__voided_at__isnull=True)))
    )
    plans = _plans(provider, recipes, day) if recipes else {}
    return {recipe: len(plans[recipe.pk].make) for recipe in recipes if plans[recipe.pk].make}


def makings_of(recipe: Recipe) -> QuerySet[Making]:
    """What was made by any edition of a recipe, the latest first, each with `is_placed`."""
    placed = Placement.objects.filter(lot=OuterRef("lot"), voided_at__isnull=True)
    makings = Making.objects.filter(recipe__product=recipe.product_id, voided_at__isnull=True)
    makings = makings.select_related("recipe", "lot").annotate(is_placed=Exists(placed))
    return makings.order_by("-on", "-pk")


def pieces_of(recipe: Recipe) -> QuerySet[MarkedPiece]:
    """The pieces that carry letters or names, by text."""
    pieces = MarkedPiece.objects.filter(lot__material=recipe.product_id, lot__voided_at__isnull=True)
    return pieces.select_related("lot").order_by("text", "pk")


@dataclass(frozen=True, slots=True)
class _Market:
    """What is on the shelves, and what the latest lot of each material cost for one of it."""

    method: Method
    shelves: Mapping[int, list[Shelf]]
    latest: Mapping[int, Decimal]

    @classmethod
    def of(cls, provider: Provider, materials: Iterable[int], day: date) -> "_Market":
        materials = list(materials)
        bought = Acquisition.objects.filter(material__in=materials, voided_at__isnull=True, on__lte=day)
        latest = {
            material: cost / quantity
            for material, cost, quantity in bought.order_by("on", "pk").values_list("material", "basis", "quantity")
        }
        return cls(method_of(provider), shelves_of(materials, day), latest)

    def component(self, material: Material, needed: Decimal) -> Component:
        shelves = self.shelves.get(material.pk, [])
        held = on_shelves(shelves)
        there = min(needed, held)
        cost = sum((each.cost for each in take(self.method, shelves, there)), ZERO) if there else ZERO
        unit = self.latest.get(material.pk)
        known = None if unit is None else cost + round_half_up((needed - there) * unit)
        return Component(material, needed, held, known)


def _components_of_a_batch(recipe: Recipe, lines: Iterable[RecipeLine], market: _Market) -> tuple[Component, ...]:
    """Line by line; lines of one material share its cost by what they need."""
    by_material: dict[Material, list[Line]] = defaultdict(list)
    for line in lines:
        by_material[line.material].append(_line(line))
    components = []
    for material, same in by_material.items():
        amounts = [need(line, recipe.makes, recipe.makes) for line in same]
        whole = market.component(material, sum(amounts, NOTHING))
        costs = [None] * len(same) if whole.cost is None else split(whole.cost, amounts)
        components += [
            Component(material, amount, whole.held, cost, line.waste, line.child_specific)
            for line, amount, cost in zip(same, amounts, costs, strict=True)
        ]
    return tuple(components)


def _line(line: RecipeLine) -> Line:
    return Line(line.material, line.quantity, line.waste, line.child_specific)


def _plans(provider: Provider, recipes: Iterable[Recipe], day: date) -> dict[int, Remake]:
    recipes = list(recipes)
    pieces: dict[int, list[MarkedPiece]] = defaultdict(list)
    rows = MarkedPiece.objects.filter(
        lot__material__in=[recipe.product_id for recipe in recipes], lot__voided_at__isnull=True
    ).exclude(state=PieceState.BROKEN)
    for piece in rows.select_related("lot").order_by("pk"):
        pieces[piece.lot.material_id].append(piece)
    children = _enrolled(provider, day)
    plans = {}
    for recipe in recipes:
        own = pieces[recipe.product_id]
        plans[recipe.pk] = remake(
            _texts(recipe, children),
            [(piece, piece.text) for piece in own if piece.state == PieceState.GOOD],
            [(piece, piece.text) for piece in own if piece.state == PieceState.PUT_BY],
        )
    return plans


def _texts(recipe: Recipe, children: Iterable[Child]) -> list[str]:
    if recipe.pieces == PieceText.LETTERS:
        return [child.letters for child in children if child.letters]
    # The name in use; never the family name.
    return [child.preferred_name or child.name.split()[0] for child in children if str(child).strip()]


def _enrolled(provider: Provider, day: date) -> list[Child]:
    on_the_day = holds_on(day, of="enrolments__")
    return list(Child.objects.filter(on_the_day, provider=provider, erased_at__isnull=True).distinct().order_by("pk"))
