"""Laying out what a run needs, in one tap."""

from datetime import date

from django.utils.translation import gettext as _

from curriculum.models import LearningCentre, Placement, PlannedMaterial, ThemeRun
from curriculum.selectors.runs import room_of
from curriculum.selectors.setting_up import met_needs, needs_of, supply_of
from curriculum.services.placements import enter_placement
from provider.desk import writing
from provider.errors import DomainError
from provider.models import Provider, User


class NothingToLayOut(DomainError):
    """No lot is free for what is still needed."""


def lay_out_needs(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    need: PlannedMaterial | None = None,
    centre: LearningCentre | None = None,
) -> Placement:
    """Lay out the lots that `selectors.setting_up` suggests: for one need, all of a centre, or the whole room.

    Returns the last placement. Raises NothingToLayOut, and what `place_lot` raises.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Placement):
            return earlier
        needs = needs_of(run)
        met = met_needs(needs, room_of(run), supply_of({each.material_id for each in needs}, run), run)
        placement = None
        for each in needs:
            if need in (None, each) and (centre is None or each.centre_id == centre.pk):
                for lot, quantity in met[each.pk].takes:
                    placement = enter_placement(desk, run, lot, each.centre, quantity, each.used_as)
        if placement is None:
            raise NothingToLayOut(_("Nothing is free to be laid out for this."))
        desk.done(submission_key, placement)
        return placement
