"""Runs that begin from an earlier one, and runs that were planned by mistake."""

from datetime import date

from django.utils.translation import gettext as _

from curriculum.models import PlannedActivity, PlannedMaterial, ReviewMark, ThemeRun, Verdict
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User


def refuse_voided_run(run: ThemeRun) -> None:
    """Raise DomainError when the run was taken out of the plan, also just now by somebody else."""
    if not ThemeRun.objects.live().filter(pk=run.pk).exists():
        raise DomainError(_("This theme was taken out of the plan."))


def copy_plan(desk: Desk, earlier: ThemeRun, run: ThemeRun) -> None:
    """Plan for `run` what `earlier` had, at the desk of another service: its activities and what they need.

    What its review says to drop stays behind, and so does what stood in a centre that is retired.
    """
    dropped = ReviewMark.objects.filter(run=earlier, verdict=Verdict.DROP)
    activities = PlannedActivity.objects.filter(run=earlier, voided_at__isnull=True, centre__retired_at__isnull=True)
    activities = activities.exclude(activity__in=dropped.filter(activity__isnull=False).values("activity"))
    desk.create_many(
        [
            PlannedActivity(provider=desk.provider, run=run, centre=each.centre, activity=each.activity, note=each.note)
            for each in activities.select_related("centre", "activity").order_by("pk")
        ]
    )
    needs = PlannedMaterial.objects.filter(run=earlier, voided_at__isnull=True)
    needs = needs.exclude(material__in=dropped.filter(material__isnull=False).values("material"))
    desk.create_many(
        [
            PlannedMaterial(
                provider=desk.provider,
                run=run,
                centre=each.centre,
                material=each.material,
                quantity=each.quantity,
                used_as=each.used_as,
            )
            for each in needs.exclude(centre__retired_at__isnull=False)
            .select_related("centre", "material")
            .order_by("pk")
        ]
    )


def void_run(
    *, provider: Provider, actor: User | None, today: date, run: ThemeRun, version: int, reason: str
) -> ThemeRun:
    """Take a run out of the plan that was planned by mistake. Raises DomainError when the books rest on it."""
    with writing(provider, actor) as desk:
        run = desk.fresh(run, version)
        if run.voided_at:
            raise DomainError(_("This theme was taken out of the plan."))
        desk.require_open(run.span.last_day)
        hanging = [
            (run.placements.filter(voided_at__isnull=True), _("something was laid out")),
            # `receipt_lines` and `observations` are known here by their names only.
            (run.receipt_lines.filter(receipt__voided_at__isnull=True), _("a receipt names it")),
            (run.work.filter(work__voided_at__isnull=True), _("hours were logged")),
            (run.observations.filter(voided_at__isnull=True), _("an observation names it")),
            (run.wishes.filter(voided_at__isnull=True, arrived_on__isnull=False), _("families brought things")),
            (run.shopping.filter(voided_at__isnull=True, bought_on__isnull=False), _("things were bought")),
        ]
        found = [words for rows, words in hanging if rows.exists()]
        if found:
            raise DomainError(
                _("The books rest on this run: %(what)s. Take that out first.") % {"what": ", ".join(found)}
            )
        return desk.void(run, reason=reason)
