"""What she owns: materials, and the lots in which they came."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from curriculum.costing import Used
from curriculum.models import Acquisition, ComponentUse, How, Keeping, Making, Material, Placement
from curriculum.selectors.stock import shelf_of, stock_of
from curriculum.services.bins import bin_named
from curriculum.services.names import refuse_taken_name
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import FileKind, Provider, StoredFile, User
from provider.money import ZERO
from provider.services.files import drop_paper


def add_material(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    name: str,
    keeping: str = Keeping.DURABLE,
    unit: str = "piece",
    place: str = "",
    note: str = "",
    new_bin: str = "",
    photo: StoredFile | None = None,
    **about: Any,
) -> Material:
    """Add a material. `new_bin` is the label of a bin, made when there is none of that label yet.

    `about` are other fields of the row: bin, pieces_in_set, age_mark_months, condition, care_note, source, licence.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Material):
            return earlier
        refuse_taken_name(desk, Material, name)
        material = Material(provider=desk.provider)
        _describe(desk, material, new_bin, photo, name=name, unit=unit, place=place, note=note, **about)
        material.keeping = keeping
        desk.save(material, verb="add")
        desk.done(submission_key, material)
        return material


def change_material(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    material: Material,
    version: int,
    name: str,
    keeping: str,
    unit: str,
    place: str = "",
    note: str = "",
    new_bin: str = "",
    photo: StoredFile | None = None,
    drop_photo: bool = False,
    **about: Any,
) -> Material:
    """Change a material. How it is kept stays once a lot lay out, for the costs of those runs rest on it.

    A new `photo` takes the place of the one before; `drop_photo` takes it away. `about` as in `add_material`.
    """
    with writing(provider, actor) as desk:
        material = desk.fresh(material, version)
        refuse_taken_name(desk, Material, name, material)
        placed = Placement.objects.filter(provider=desk.provider, lot__material=material, voided_at__isnull=True)
        used = ComponentUse.objects.filter(lot__material=material, making__voided_at__isnull=True)
        if keeping != material.keeping and (placed.exists() or used.exists()):
            raise DomainError(
                _("It was used already, and costs rest on how it is kept. Add another material instead."),
                field="keeping",
            )
        before = material.photo
        _describe(desk, material, new_bin, photo, name=name, unit=unit, place=place, note=note, **about)
        material.keeping = keeping
        if drop_photo and photo is None:
            material.photo = None
        desk.save(material, verb="change")
        if before is not None and before != material.photo:
            drop_paper(desk, before)
        return material


def _describe(desk: Desk, material: Material, new_bin: str, photo: StoredFile | None, **about: Any) -> None:
    for name, value in about.items():
        setattr(material, name, value)
    if new_bin.strip():
        material.bin = bin_named(desk, new_bin)
    if photo is not None:
        if photo.kind != FileKind.JPEG:
            raise DomainError(_("Send a photo of it, not a paper."), field="file")
        material.photo = photo


def acquire(
    desk: Desk,
    *,
    material: Material | str,
    on: date,
    how: str,
    quantity: Decimal,
    basis: Decimal = ZERO,
    residual: Decimal = ZERO,
    expected_uses: int = 1,
    source: str = "",
    estimated_value: Decimal | None = None,
    note: str = "",
    keeping: str = Keeping.DURABLE,
) -> Acquisition:
    """Add a lot at the desk of another service.

    `material` is a row of the provider or a name; a name that is new makes a material kept as `keeping`.
    `quantity` in the material's unit, `basis` and `residual` in money. Raises DomainError, PeriodLocked, ForeignRow.
    """
    if isinstance(material, str):
        material = _named(desk, material, keeping)
    lot = Acquisition(provider=desk.provider, material=material)
    return _write(
        desk,
        lot,
        verb="acquire",
        on=on,
        how=how,
        quantity=quantity,
        basis=basis,
        residual=residual,
        expected_uses=expected_uses,
        source=source,
        estimated_value=estimated_value,
        note=note,
    )


def amend(desk: Desk, lot: Acquisition, **changes: Any) -> Acquisition:
    """Change fields of a lot at the desk of another service: a corrected receipt changes the basis of its lots."""
    if lot.voided_at:
        raise DomainError(_("This lot was voided."))
    desk.require_open(lot.on, field="on")
    return _write(desk, lot, verb="correct", **changes)


def withdraw(desk: Desk, lot: Acquisition, *, reason: str) -> Acquisition:
    """Void a lot at the desk of another service: a voided receipt takes its lots with it."""
    desk.require_open(lot.on)
    if Placement.objects.filter(lot=lot, voided_at__isnull=True).exists():
        raise DomainError(_("%(lot)s lies in a run. Take it out of the run first.") % {"lot": lot})
    if component_uses(lot).exists():
        raise DomainError(_("%(lot)s went into something home-made. Undo that first.") % {"lot": lot})
    return desk.void(lot, reason=reason)


def acquire_lot(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    material: Material,
    on: date,
    how: str,
    quantity: Decimal,
    basis: Decimal = ZERO,
    residual: Decimal = ZERO,
    expected_uses: int = 1,
    source: str = "",
    estimated_value: Decimal | None = None,
    note: str = "",
) -> Acquisition:
    """Add a lot by hand. A bought one has a receipt as a rule; without it the note says why."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Acquisition):
            return earlier
        if how == How.BOUGHT and not note.strip():
            raise DomainError(
                _("A bought lot comes from its receipt. If there is none, say in the note how you know the price."),
                field="note",
            )
        _refuse_future(on, today)
        lot = acquire(
            desk,
            material=material,
            on=on,
            how=how,
            quantity=quantity,
            basis=basis,
            residual=residual,
            expected_uses=expected_uses,
            source=source,
            estimated_value=estimated_value,
            note=note,
        )
        desk.done(submission_key, lot)
        return lot


def correct_lot(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    lot: Acquisition,
    version: int,
    on: date,
    how: str,
    quantity: Decimal,
    basis: Decimal,
    residual: Decimal = ZERO,
    expected_uses: int = 1,
    source: str = "",
    estimated_value: Decimal | None = None,
    note: str = "",
) -> Acquisition:
    """Correct a lot by hand; what it cost is corrected on its receipt, when it has one."""
    with writing(provider, actor) as desk:
        lot = desk.fresh(lot, version)
        if basis != lot.basis and has_receipt(lot):
            raise DomainError(_("What it cost stands on its receipt. Correct the receipt."), field="basis")
        facts = (on, how, quantity, basis)
        if facts != (lot.on, lot.how, lot.quantity, lot.basis) and has_recipe(lot):
            raise DomainError(_("It was made by a recipe, and its cost follows its components. Undo the making."))
        _refuse_future(on, today)
        return amend(
            desk,
            lot,
            on=on,
            how=how,
            quantity=quantity,
            basis=basis,
            residual=residual,
            expected_uses=expected_uses,
            source=source,
            estimated_value=estimated_value,
            note=note,
        )


def void_lot(
    *, provider: Provider, actor: User | None, today: date, lot: Acquisition, version: int, reason: str
) -> Acquisition:
    """Void a lot that was entered by mistake: one that never lay out and has no receipt."""
    with writing(provider, actor) as desk:
        lot = desk.fresh(lot, version)
        if has_receipt(lot):
            raise DomainError(_("This lot stands on a receipt. Correct or void the receipt."))
        if has_recipe(lot):
            raise DomainError(_("This lot was made by a recipe. Undo the making."))
        return withdraw(desk, lot, reason=reason)


def component_uses(lot: Acquisition) -> QuerySet[ComponentUse]:
    """What of a lot went into something home-made, in order of day."""
    uses = ComponentUse.objects.filter(lot=lot, making__voided_at__isnull=True)
    return uses.select_related("making__lot__material").order_by("making__on", "making_id")


def has_recipe(lot: Acquisition) -> bool:
    """Whether the lot was made by a recipe, so that its day, pieces and cost are those of the making."""
    return Making.objects.filter(lot=lot, voided_at__isnull=True).exists()


def has_receipt(lot: Acquisition) -> bool:
    return lot.receipt_lines.filter(receipt__voided_at__isnull=True).exists()


def _named(desk: Desk, name: str, keeping: str) -> Material:
    same = Material.objects.filter(provider=desk.provider, name__iexact=name.strip()).first()
    return same or desk.save(Material(provider=desk.provider, name=name.strip(), keeping=keeping), verb="add")


def _refuse_future(on: date, today: date) -> None:
    if on > today:
        raise DomainError(_("This day has not come yet."), field="on")


def _write(desk: Desk, lot: Acquisition, *, verb: str, **values: Any) -> Acquisition:
    for name, value in values.items():
        setattr(lot, name, value)
    desk.require_open(lot.on, field="on")
    if lot.quantity <= 0:
        raise DomainError(_("Enter how many came."), field="quantity")
    if lot.how == How.GIVEN and lot.basis:
        raise DomainError(_("What was given cost nothing. Its estimated value has a box of its own."), field="basis")
    if lot.basis < 0:
        raise DomainError(_("The cost cannot be negative."), field="basis")
    if lot.estimated_value is not None and lot.how != How.GIVEN:
        raise DomainError(_("An estimated value is a note on what was given."), field="estimated_value")
    if not 0 <= lot.residual <= lot.basis:
        raise DomainError(_("The value at the end lies between nothing and the cost."), field="residual")
    is_correction = bool(lot.pk)
    if is_correction:
        _keep_history_possible(lot)
    told = _("Corrected the lot %(lot)s") if is_correction else _("Added the lot %(lot)s")
    desk.save(lot, verb=verb, summary=told % {"lot": lot})
    if is_correction:
        _follow(desk, lot)
    return lot


def _keep_history_possible(lot: Acquisition) -> None:
    """A correction may not contradict where the lot lay and what was lost of it."""
    if Placement.objects.filter(lot=lot, voided_at__isnull=True, run__end__lte=lot.on).exists():
        raise DomainError(_("It lay in a run that ended before this day."), field="on")
    if component_uses(lot).filter(making__on__lt=lot.on).exists():
        raise DomainError(_("Something home-made was made of it before this day."), field="on")
    if not stock_of(lot).is_possible:
        raise DomainError(_("More of it lay out, or was lost, than this."), field="quantity")


def _follow(desk: Desk, lot: Acquisition) -> None:
    """What was made of a corrected lot takes its part of the new cost."""
    uses = list(component_uses(lot))
    if not uses:
        return
    stock = replace(stock_of(lot), used=())
    for use in uses:
        cost = shelf_of(lot, stock, use.making.on).cost_of(use.quantity)
        stock = replace(stock, used=(*stock.used, Used(use.making_id, use.making.on, use.quantity, cost)))
        if cost != use.cost:
            made = use.making.lot
            basis = made.basis - use.cost + cost
            use.cost = cost
            desk.save(use)
            amend(desk, made, basis=basis, residual=min(made.residual, basis))
