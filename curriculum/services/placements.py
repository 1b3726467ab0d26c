"""Setting up a run and putting it away again."""

from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from curriculum.models import Acquisition, Keeping, LearningCentre, Placement, PutAway, ThemeRun
from curriculum.selectors.stock import counts_of, spread_of, stock_of
from curriculum.services.mending import enter_broken
from curriculum.services.runs import refuse_voided_run
from curriculum.stock import NOTHING, Count
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User
from provider.steps import figure


class NotEnough(DomainError):
    """More pieces than there are. `held` is how many there are."""

    def __init__(self, message: str, held: Decimal, *, field: str) -> None:
        super().__init__(message % {"held": figure(held)}, field=field)
        self.held = held


def place_lot(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    lot: Acquisition,
    centre: LearningCentre | None = None,
    quantity: Decimal,
    used_as: str = "",
) -> Placement:
    """Lay `quantity` pieces of a lot out in a run. Raises NotEnough, and DomainError when the lot cannot lie there."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Placement):
            return earlier
        placement = enter_placement(desk, run, lot, centre, quantity, used_as)
        desk.done(submission_key, placement)
        return placement


def enter_placement(
    desk: Desk, run: ThemeRun, lot: Acquisition, centre: LearningCentre | None, quantity: Decimal, used_as: str = ""
) -> Placement:
    """`place_lot` at the desk of another service."""
    desk.require_open(run.span.last_day)
    refuse_voided_run(run)
    lot = Acquisition.objects.select_related("material").get(pk=lot.pk)
    if lot.voided_at:
        raise DomainError(_("This lot was voided."), field="lot")
    if lot.on >= run.end:
        raise DomainError(_("This lot came only after the run."), field="lot")
    if Placement.objects.filter(run=run, lot=lot, voided_at__isnull=True).exists():
        raise DomainError(_("This lot lies in the run already. Take it out first to move it."), field="lot")
    if quantity <= 0:
        raise DomainError(_("Enter how many you lay out."), field="quantity")
    free = stock_of(lot).free
    if quantity > free:
        raise NotEnough(_("Only %(held)s of it can be laid out."), free, field="quantity")
    placement = Placement(provider=desk.provider, run=run, lot=lot, centre=centre, quantity=quantity, used_as=used_as)
    summary = _("Laid out %(quantity)s of %(lot)s in %(run)s")
    return desk.save(placement, verb="place", summary=summary % {"quantity": figure(quantity), "lot": lot, "run": run})


def unplace(*, provider: Provider, actor: User | None, today: date, placement: Placement, version: int) -> Placement:
    """Take a placement out of its run, as if it had never lain there. Not once it was put away."""
    with writing(provider, actor) as desk:
        placement = desk.fresh(placement, version)
        _refuse_voided(placement)
        desk.require_open(placement.run.span.last_day)
        if placement.put_away.filter(voided_at__isnull=True).exists():
            raise DomainError(_("It was put away already. Undo that first."))
        return desk.void(placement, reason=_("taken out of the run"))


def put_away(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    placement: Placement,
    on: date,
    returned: Decimal = NOTHING,
    broken: Decimal = NOTHING,
    missing: Decimal = NOTHING,
    used_up: Decimal = NOTHING,
    washed: bool = False,
    note: str = "",
    plan: str = "",
    how: str = "",
) -> PutAway:
    """Count what came back of a placement, in one go or in several. Raises NotEnough when fewer lie out.

    `plan` (a Mending) says what is to become of the broken pieces, `how` how they broke; without it that is open.
    Of a durable material nothing is used up: what no longer serves is broken, so that its value is written off.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PutAway):
            return earlier
        placement = Placement.objects.select_related("run", "lot__material").get(pk=placement.pk)
        _refuse_voided(placement)
        count = _counted(placement, returned=returned, broken=broken, missing=missing, used_up=used_up)
        if not placement.run.start <= on:
            raise DomainError(_("The run had not begun on this day."), field="on")
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        desk.require_open(on, field="on")
        out = spread_of(placement, counts_of([placement])[placement.pk]).still_out
        if count.total > out:
            raise NotEnough(_("Only %(held)s lie out."), out, field="returned")
        held = stock_of(placement.lot).on_hand
        if count.gone > held:
            raise NotEnough(_("Only %(held)s are left of this lot."), held, field="missing")
        row = PutAway(
            provider=desk.provider,
            placement=placement,
            on=on,
            returned=returned,
            broken=broken,
            missing=missing,
            used_up=used_up,
            washed=washed,
            note=note,
        )
        summary = _("Put away %(lot)s: %(returned)s back, %(gone)s gone")
        numbers = {"lot": placement.lot, "returned": figure(returned), "gone": figure(count.gone)}
        desk.save(row, verb="put away", summary=summary % numbers)
        if broken and plan:
            enter_broken(desk, row, broken, plan, how)
        desk.done(submission_key, row)
        return row


def void_put_away(*, provider: Provider, actor: User | None, today: date, row: PutAway, version: int) -> PutAway:
    """Undo a count: its pieces lie out again. Not when they were laid out elsewhere since."""
    with writing(provider, actor) as desk:
        row = desk.fresh(row, version)
        if row.voided_at:
            raise DomainError(_("This count was undone already."))
        desk.require_open(row.on)
        desk.void(row, reason=_("count undone"), verb="undo")
        lot = Acquisition.objects.select_related("material").get(placements=row.placement_id)
        if not stock_of(lot).is_possible:
            raise DomainError(_("What came back lies in another run by now."))
        return row


def _counted(placement: Placement, **pieces: Decimal) -> Count:
    for name, number in pieces.items():
        if number < 0:
            raise DomainError(_("A count cannot be negative."), field=name)
    count = Count(**pieces)
    if not count.total:
        raise DomainError(_("Enter how many came back, broke, or are missing."), field="returned")
    if count.used_up and placement.lot.material.keeping == Keeping.DURABLE:
        raise DomainError(_("This material is kept as durable. Count the pieces as broken."), field="used_up")
    return count


def _refuse_voided(placement: Placement) -> None:
    if placement.voided_at:
        raise DomainError(_("This was taken out of the run."))
