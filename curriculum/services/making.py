"""Recipes, and making things by them: components leave the stock and what they cost goes into the lot made."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from curriculum.costing import Taken, on_shelves, take
from curriculum.models import (
    ComponentUse,
    How,
    Keeping,
    Making,
    MarkedPiece,
    Material,
    PieceState,
    PieceText,
    PlayroomChoices,
    Recipe,
    RecipeLine,
)
from curriculum.selectors.making import lines_of, method_of, needs_of, newest_edition
from curriculum.selectors.stock import shelves_of
from curriculum.services.materials import acquire, withdraw
from provider.desk import Desk, writing
from provider.errors import DomainError, StaleRow
from provider.models import Child, Household, Provider, User
from provider.money import ZERO
from provider.steps import figure


@dataclass(frozen=True, slots=True)
class ComponentInput:
    """`quantity` of a material for one batch; `waste` is a fraction of one that is lost on the way."""

    material: Material
    quantity: Decimal
    waste: Decimal = Decimal(0)
    child_specific: bool = False


class ComponentsShort(DomainError):
    """Too little of something is in stock. `short` holds each material with what is missing of it."""

    def __init__(self, short: Sequence[tuple[Material, Decimal]]) -> None:
        listed = ", ".join(f"{figure(missing)} {material.unit} {material.name}" for material, missing in short)
        super().__init__(_("Not enough in stock. Missing: %(list)s.") % {"list": listed})
        self.short = tuple(short)


def add_recipe(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    name: str,
    keeping: str = Keeping.DURABLE,
    components: Sequence[ComponentInput] = (),
    **facts: Any,
) -> Recipe:
    """Add the recipe of a home-made material; a name that is new makes the material, kept as `keeping`.

    `facts` are the other fields of `Recipe`: pieces, makes, minutes, expected_uses, bought_price (of one), source,
    licence, note.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Recipe):
            return earlier
        product = Material.objects.filter(provider=desk.provider, name__iexact=name.strip()).first()
        if product is None:
            product = desk.save(Material(provider=desk.provider, name=name.strip(), keeping=keeping), verb="add")
        elif product.recipes.exists():
            raise DomainError(_("“%(name)s” has a recipe already. Change that one.") % {"name": product}, field="name")
        recipe = _write(desk, Recipe(provider=desk.provider, product=product, **facts), components, verb="add")
        desk.done(submission_key, recipe)
        return recipe


def change_recipe(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    recipe: Recipe,
    version: int,
    components: Sequence[ComponentInput] = (),
    **facts: Any,
) -> Recipe:
    """Write the next edition of a recipe; what was made by an earlier one stays with it. `facts` as in `add_recipe`.

    An edition's version is its number, so that a form opened on an earlier edition is a stale one.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Recipe):
            return earlier
        newest = newest_edition(recipe)
        if newest.version != version:
            raise StaleRow(newest)
        number = newest.edition + 1
        row = Recipe(provider=desk.provider, product=newest.product, edition=number, version=number, **facts)
        changed = _write(desk, row, components, verb="change")
        desk.done(submission_key, changed)
        return changed


def make_pieces(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    recipe: Recipe,
    on: date,
    quantity: Decimal,
    minutes: int = 0,
    texts: Sequence[str] = (),
    only_child_specific: bool = False,
) -> Making:
    """Make `quantity` pieces: the components leave the stock by the business's method, and their cost is the lot's.

    A recipe for letters or names takes one of `texts` for each piece. `only_child_specific` uses again only what a
    changed roster uses up. Raises ComponentsShort, PeriodLocked, DomainError.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Making):
            return earlier
        desk.require_open(on, field="on")
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        if quantity <= 0:
            raise DomainError(_("Enter how many you made."), field="quantity")
        recipe = Recipe.objects.select_related("product").get(pk=recipe.pk)
        if newest_edition(recipe).pk != recipe.pk:
            raise DomainError(_("The recipe was changed since. Open its newest edition."))
        texts = _checked_texts(recipe, quantity, texts)
        taken = _take_components(desk, recipe, quantity, on, only_child_specific=only_child_specific)
        lot = acquire(
            desk,
            material=recipe.product,
            on=on,
            how=How.MADE,
            quantity=quantity,
            basis=sum((each.cost for each in taken), ZERO),
            expected_uses=recipe.expected_uses,
        )
        making = Making(provider=desk.provider, recipe=recipe, lot=lot, on=on, quantity=quantity, minutes=minutes)
        told = {"quantity": figure(quantity), "product": recipe.product}
        desk.save(making, verb="make", summary=_("Made %(quantity)s of %(product)s") % told)
        desk.create_many(
            [
                ComponentUse(
                    provider=desk.provider, making=making, lot_id=each.lot, quantity=each.quantity, cost=each.cost
                )
                for each in taken
            ]
        )
        desk.create_many([MarkedPiece(provider=desk.provider, lot=lot, text=text) for text in texts])
        desk.done(submission_key, making)
        return making


def undo_making(
    *, provider: Provider, actor: User | None, today: date, making: Making, version: int, reason: str
) -> Making:
    """Undo a making while nothing of it lay out or went into something else: its components are on the shelf again."""
    with writing(provider, actor) as desk:
        making = desk.fresh(making, version)
        if making.voided_at:
            raise DomainError(_("This making was undone already."))
        withdraw(desk, making.lot, reason=reason)
        return desk.void(making, reason=reason, verb="undo")


def set_cost_method(
    *, provider: Provider, actor: User | None, today: date, version: int, cost_method: str
) -> PlayroomChoices:
    """Choose how makings take components from their lots, from now on; what was made keeps its cost."""
    with writing(provider, actor) as desk:
        row = PlayroomChoices.objects.filter(provider=desk.provider).first()
        row = desk.fresh(row, version) if row else PlayroomChoices(provider=desk.provider)
        row.cost_method = cost_method
        return desk.save(row, verb="choose", summary=_("Cost of components: %(method)s") % {"method": row})


def mark_piece(
    *, provider: Provider, actor: User | None, today: date, piece: MarkedPiece, version: int, state: str
) -> MarkedPiece:
    """Say what became of a piece with letters or a name. The count of its lot is kept by putting away."""
    with writing(provider, actor) as desk:
        piece = desk.fresh(piece, version)
        piece.state = state
        piece = desk.save(piece)
        # The trail names the lot and not the piece, whose text may be a child's name.
        told = {"product": piece.lot.material, "state": piece.get_state_display()}
        desk.audit("mark", piece.lot, _("A piece of %(product)s: %(state)s") % told)
        return piece


def forget_marked_pieces(desk: Desk, household: Household) -> None:
    """Blank the pieces that carry a name of an erased family, and put them by, unless another child bears it.

    A single letter names nobody, and stays.
    """
    children = Child.objects.filter(provider=desk.provider)
    own, others = children.filter(household=household), children.exclude(household=household)
    texts = _texts_of(own) - _texts_of(others.filter(erased_at__isnull=True))
    pieces = MarkedPiece.objects.filter(provider=desk.provider)
    found = [piece.pk for piece in pieces if piece.text.casefold() in texts]
    pieces.filter(pk__in=found, state=PieceState.GOOD).update(state=PieceState.PUT_BY)
    pieces.filter(pk__in=found).update(text="–", version=F("version") + 1)


def _texts_of(children: Iterable[Child]) -> set[str]:
    """What pieces of these children may carry, capitals made equal."""
    words = [
        word for child in children for word in (child.preferred_name, child.name, *child.name.split(), child.letters)
    ]
    return {word.casefold() for word in words if len(word) > 1}


def _write(desk: Desk, recipe: Recipe, components: Sequence[ComponentInput], *, verb: str) -> Recipe:
    seen: set[tuple[int, bool]] = set()
    for each in components:
        if each.material.pk == recipe.product_id:
            raise DomainError(_("A thing cannot be a component of itself."), field="components")
        if each.quantity <= 0 or not 0 <= each.waste < 1:
            raise DomainError(
                _("Enter how much of each component is needed, and a waste below 100 percent."), field="components"
            )
        key = (each.material.pk, each.child_specific)
        if key in seen:
            raise DomainError(_("“%(name)s” is listed twice.") % {"name": each.material}, field="components")
        seen.add(key)
    if recipe.makes <= 0:
        raise DomainError(_("Enter how many pieces the recipe makes."), field="makes")
    desk.save(recipe, verb=verb)
    for each in components:
        desk.save(
            RecipeLine(
                provider=desk.provider,
                recipe=recipe,
                material=each.material,
                quantity=each.quantity,
                waste=each.waste,
                child_specific=each.child_specific,
            )
        )
    return recipe


def _checked_texts(recipe: Recipe, quantity: Decimal, texts: Iterable[str]) -> list[str]:
    texts = [text.strip() for text in texts if text.strip()]
    if recipe.pieces == PieceText.SHARED:
        if texts:
            raise DomainError(_("These pieces are the same for everybody and carry no letters."), field="texts")
        return []
    longest = MarkedPiece._meta.get_field("text").max_length or 0
    if any(len(text) > longest for text in texts):
        raise DomainError(_("A text on a piece has at most %(count)d letters.") % {"count": longest}, field="texts")
    if len(texts) != quantity:
        raise DomainError(
            ngettext(
                "Write one text a line for each piece: %(made)s made, %(count)d text.",
                "Write one text a line for each piece: %(made)s made, %(count)d texts.",
                len(texts),
            )
            % {"made": figure(quantity), "count": len(texts)},
            field="texts",
        )
    return texts


def _take_components(
    desk: Desk, recipe: Recipe, quantity: Decimal, on: date, *, only_child_specific: bool
) -> list[Taken]:
    wanted = needs_of(recipe, lines_of([recipe])[recipe.pk], quantity, only_child_specific=only_child_specific)
    shelves = shelves_of([material.pk for material in wanted], on)
    short = [
        (material, amount - held)
        for material, amount in wanted.items()
        if amount > (held := on_shelves(shelves.get(material.pk, [])))
    ]
    if short:
        raise ComponentsShort(short)
    method = method_of(desk.provider)
    return [each for material, amount in wanted.items() for each in take(method, shelves[material.pk], amount)]
