"""What becomes of pieces that came back broken: mended, replaced, or written off."""

from datetime import date
from decimal import Decimal

from django.db.models import Sum
from django.utils.translation import gettext as _

from curriculum.models import Acquisition, BrokenThing, Mending, PutAway
from curriculum.selectors.stock import stock_of
from curriculum.stock import NOTHING
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User
from provider.steps import figure


def plan_broken(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    put_away: PutAway,
    quantity: Decimal,
    plan: str,
    how: str = "",
) -> BrokenThing:
    """Say what is to become of `quantity` of the pieces that a count found broken, and `how` they broke."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, BrokenThing):
            return earlier
        put_away = PutAway.objects.select_related("placement__lot__material").get(pk=put_away.pk)
        _refuse_undone(put_away)
        row = enter_broken(desk, put_away, quantity, plan, how)
        desk.done(submission_key, row)
        return row


def enter_broken(desk: Desk, put_away: PutAway, quantity: Decimal, plan: str, how: str) -> BrokenThing:
    """`plan_broken` at the desk of another service."""
    if quantity <= 0:
        raise DomainError(_("Enter how many pieces."), field="quantity")
    planned = BrokenThing.objects.filter(put_away=put_away).aggregate(sum=Sum("quantity"))["sum"] or NOTHING
    if quantity > put_away.broken - planned:
        left = figure(put_away.broken - planned)
        raise DomainError(_("Only %(left)s broken pieces wait for a plan.") % {"left": left}, field="quantity")
    row = BrokenThing(provider=desk.provider, put_away=put_away, quantity=quantity, plan=plan, how=how)
    if plan == Mending.WRITE_OFF:
        row.done_on = put_away.on  # the count wrote it off already
    summary = _("%(lot)s, %(quantity)s broken: %(plan)s")
    told = {"lot": put_away.placement.lot, "quantity": figure(quantity), "plan": row.get_plan_display()}
    return desk.save(row, verb="plan", summary=summary % told)


def change_broken(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    broken: BrokenThing,
    version: int,
    plan: str,
    how: str = "",
    done_on: date | None = None,
    mended: Decimal = NOTHING,
    outcome: str = "",
) -> BrokenThing:
    """Note what became of broken pieces. `mended` of them are whole again: repaired, or replaced at no cost.

    Those come back into stock as if they had never broken, so that the run no longer bears their write-off. Refused
    once the day of the count is closed, and when pieces that would be broken again lie out by now.
    """
    with writing(provider, actor) as desk:
        broken = desk.fresh(broken, version)
        _refuse_undone(broken.put_away)
        if not NOTHING <= mended <= broken.quantity:
            whole = figure(broken.quantity)
            raise DomainError(_("Enter a number from 0 to %(whole)s.") % {"whole": whole}, field="mended")
        if mended and plan == Mending.WRITE_OFF:
            raise DomainError(_("What is written off is not whole again."), field="mended")
        if done_on and done_on > today:
            raise DomainError(_("This day has not come yet."), field="done_on")
        if done_on and done_on < broken.put_away.on:
            raise DomainError(_("It was counted as broken only after this day."), field="done_on")
        if mended and not done_on:
            raise DomainError(_("Enter the day from which they were whole again."), field="done_on")
        fewer = mended < broken.mended
        if mended != broken.mended:
            desk.require_open(broken.put_away.on, field="mended")
        broken.plan, broken.how, broken.done_on = plan, how, done_on
        broken.mended, broken.outcome = mended, outcome
        desk.save(broken, verb="mend" if mended else "change")
        lot = Acquisition.objects.select_related("material").get(placements=broken.put_away.placement_id)
        if fewer and not stock_of(lot).covers_its_runs:
            raise DomainError(_("What was mended lies in another run by now."), field="mended")
        return broken


def _refuse_undone(put_away: PutAway) -> None:
    if put_away.voided_at:
        raise DomainError(_("This count was undone."))
