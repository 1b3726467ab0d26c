"""Looking back on a run: what to keep, change and drop, and what next year's run should start with."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from curriculum.models import Activity, Material, PlannedMaterial, ReviewMark, RunReview, ThemeRun, Verdict
from curriculum.selectors.looking_back import unplanned_of
from provider.desk import Desk, writing
from provider.errors import DomainError, StaleRow
from provider.models import Provider, User


@dataclass(frozen=True, slots=True)
class MarkInput:
    """The verdict (a Verdict, or empty to take it back) on an activity or a material."""

    thing: Activity | Material
    verdict: str = ""
    note: str = ""


def save_review(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    run: ThemeRun,
    version: int = 0,
    loved: str = "",
    next_time: str = "",
    marks: Iterable[MarkInput] = (),
) -> RunReview:
    """Write what a run taught; once or many times. `version` 0 says that nothing was written yet.

    Raises StaleRow when somebody else wrote since, and DomainError for a note without a verdict.
    """
    with writing(provider, actor) as desk:
        review = RunReview.objects.filter(run=run).select_related("run__theme").first()
        if review is None:
            review = RunReview(provider=desk.provider, run=run)
        elif review.version != version:
            raise StaleRow(review)
        changes: dict[str, Any] = {}
        before = {(mark.activity_id, mark.material_id): mark for mark in ReviewMark.objects.filter(run=run)}
        for given in marks:
            _mark(desk, run, given, before, changes)
        review.loved, review.next_time = loved, next_time
        desk.save(review, verb="look back", summary=_("Looked back on %(run)s") % {"run": run})
        if changes:
            desk.audit("look back", review, _("Verdicts on %(run)s") % {"run": run}, changes)
        return review


def plan_what_lay_out(
    *, provider: Provider, actor: User | None, today: date, submission_key: str = "", run: ThemeRun
) -> PlannedMaterial:
    """Note what lay out in a run without a plan as needs of it, so that a run which starts from it takes them over.

    Returns the last need. Raises DomainError when all of it was planned.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PlannedMaterial):
            return earlier
        need = None
        for each in unplanned_of(run):
            need = PlannedMaterial(
                provider=desk.provider,
                run=run,
                centre=each.centre,
                material=each.material,
                quantity=each.quantity,
                used_as=each.used_as,
            )
            desk.save(need, verb="plan")
        if need is None:
            raise DomainError(_("All that lay out was planned."))
        desk.done(submission_key, need)
        return need


def _mark(desk: Desk, run: ThemeRun, given: MarkInput, before: dict[Any, ReviewMark], changes: dict[str, Any]) -> None:
    activity = given.thing if isinstance(given.thing, Activity) else None
    material = given.thing if isinstance(given.thing, Material) else None
    mark = before.get((activity and activity.pk, material and material.pk))
    if given.note and not given.verdict:
        raise DomainError(_("Choose keep, change or drop for %(name)s.") % {"name": given.thing})
    was = (mark.verdict, mark.note) if mark else ("", "")
    if was == (given.verdict, given.note):
        return
    changes[str(given.thing)] = [" ".join(filter(None, was)), " ".join(filter(None, (given.verdict, given.note)))]
    if not given.verdict:
        # No voided row: the trail keeps what was said, and the thing can be marked anew.
        if mark:
            mark.delete()
        return
    mark = mark or ReviewMark(provider=desk.provider, run=run, activity=activity, material=material)
    mark.verdict, mark.note = Verdict(given.verdict), given.note
    desk.save(mark)
