"""What is planned for a run: activities with what they practise, what they need, and the owner's own goals."""

from collections.abc import Collection
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from curriculum.models import (
    Activity,
    ActivityGoal,
    Keeping,
    LearningCentre,
    Material,
    OwnGoal,
    PlannedActivity,
    PlannedMaterial,
    ThemeRun,
)
from curriculum.services.names import refuse_taken_name
from curriculum.services.runs import refuse_voided_run
from curriculum.skills import OWN, goal
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User
from provider.models.base import new_public_id


def add_activity(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    name: str,
    main: str = "",
    goals: Collection[str] = (),
    **about: Any,
) -> Activity:
    """Add an idea. `goals` are goal codes, `main` the one that it practises most.

    `about` are other fields of the row: note, from_months, to_months, source, licence.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Activity):
            return earlier
        activity = _describe(desk, Activity(provider=desk.provider), "add", name, main, goals, about)
        desk.done(submission_key, activity)
        return activity


def change_activity(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    activity: Activity,
    version: int,
    name: str,
    main: str = "",
    goals: Collection[str] = (),
    **about: Any,
) -> Activity:
    """Change an idea everywhere it is planned. Arguments as in `add_activity`."""
    with writing(provider, actor) as desk:
        activity = desk.fresh(activity, version)
        return _describe(desk, activity, "change", name, main, goals, about)


def plan_activity(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    centre: LearningCentre,
    name: str,
    note: str = "",
) -> PlannedActivity:
    """Plan an activity in a centre. A name that is new makes an activity of which more can be said later."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PlannedActivity):
            return earlier
        _require_plan(desk, run)
        activity = Activity.objects.filter(provider=desk.provider, name__iexact=name.strip()).first()
        if activity is None:
            activity = desk.save(Activity(provider=desk.provider, name=name.strip()), verb="add")
        planned = PlannedActivity(provider=desk.provider, run=run, centre=centre, activity=activity, note=note)
        _refuse_twice(planned)
        desk.save(planned, verb="plan")
        desk.done(submission_key, planned)
        return planned


def change_planned(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    planned: PlannedActivity,
    version: int,
    centre: LearningCentre,
    note: str = "",
) -> PlannedActivity:
    """Move a planned activity, or change what is said about it this time."""
    with writing(provider, actor) as desk:
        planned = desk.fresh(planned, version)
        _require_plan(desk, planned.run)
        planned.centre, planned.note = centre, note
        _refuse_twice(planned)
        return desk.save(planned, verb="change")


def plan_material(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    name: str,
    quantity: Decimal,
    centre: LearningCentre | None = None,
    used_as: str = "",
    keeping: str = Keeping.DURABLE,
) -> PlannedMaterial:
    """Plan that so many of a material are needed. A name that is new makes a material kept as `keeping`."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, PlannedMaterial):
            return earlier
        _require_plan(desk, run)
        material = Material.objects.filter(provider=desk.provider, name__iexact=name.strip()).first()
        if material is None:
            material = desk.save(Material(provider=desk.provider, name=name.strip(), keeping=keeping), verb="add")
        need = PlannedMaterial(provider=desk.provider, run=run, centre=centre, material=material)
        need.quantity, need.used_as = quantity, used_as
        _refuse_second_need(need)
        desk.save(need, verb="plan")
        desk.done(submission_key, need)
        return need


def change_need(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    need: PlannedMaterial,
    version: int,
    quantity: Decimal,
    centre: LearningCentre | None = None,
    used_as: str = "",
) -> PlannedMaterial:
    with writing(provider, actor) as desk:
        need = desk.fresh(need, version)
        _require_plan(desk, need.run)
        need.quantity, need.centre, need.used_as = quantity, centre, used_as
        _refuse_second_need(need)
        return desk.save(need, verb="change")


def take_out(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    row: PlannedActivity | PlannedMaterial,
    version: int,
) -> PlannedActivity | PlannedMaterial:
    """Take a planned activity or a need out of its run."""
    with writing(provider, actor) as desk:
        row = desk.fresh(row, version)
        _require_plan(desk, row.run)
        if row.voided_at is None:
            row.voided_at = timezone.now()
            desk.save(row, verb="take out", summary=_("Took %(row)s out of the plan") % {"row": row})
        return row


def add_goal(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    domain: str,
    title: str,
) -> OwnGoal:
    """Add a goal in the owner's words. `domain` is a domain code of a framework, or her own word."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, OwnGoal):
            return earlier
        code = f"{OWN}-{new_public_id()}"
        row = desk.save(OwnGoal(provider=desk.provider, code=code, domain=domain, title=title), verb="add")
        desk.done(submission_key, row)
        return row


def change_goal(
    *, provider: Provider, actor: User | None, today: date, goal: OwnGoal, version: int, domain: str, title: str
) -> OwnGoal:
    """Say a goal differently, everywhere it is practised."""
    with writing(provider, actor) as desk:
        goal = desk.fresh(goal, version)
        goal.domain, goal.title = domain, title
        return desk.save(goal, verb="change")


def _describe(
    desk: Desk, activity: Activity, verb: str, name: str, main: str, goals: Collection[str], about: dict[str, Any]
) -> Activity:
    refuse_taken_name(desk, Activity, name, activity if activity.pk else None)
    activity.name = name
    for field, value in about.items():
        setattr(activity, field, value)
    if activity.from_months and activity.to_months and activity.to_months < activity.from_months:
        raise DomainError(_("The oldest age is below the youngest."), field="to_months")
    desk.save(activity, verb=verb)
    _practise(desk, activity, main, goals)
    return activity


def _practise(desk: Desk, activity: Activity, main: str, goals: Collection[str]) -> None:
    wanted = dict.fromkeys([*([main] if main else []), *goals])
    own = set(OwnGoal.objects.filter(provider=desk.provider, code__in=wanted).values_list("code", flat=True))
    for code in wanted.keys() - own:
        try:
            goal(code)
        except KeyError as error:
            raise DomainError(_("There is no goal “%(code)s”.") % {"code": code}, field="goals") from error
    before = {row.goal: row for row in activity.goals.all()}
    now = {code: code == main for code in wanted}
    if {code: row.is_main for code, row in before.items()} == now:
        return
    activity.goals.all().delete()
    desk.create_many(
        [
            ActivityGoal(provider=desk.provider, activity=activity, goal=code, is_main=is_main)
            for code, is_main in now.items()
        ]
    )
    desk.audit("change", activity, "", {"goals": [", ".join(sorted(before)), ", ".join(sorted(now))]})


def _require_plan(desk: Desk, run: ThemeRun) -> None:
    """The run is in the plan, and its books are open."""
    refuse_voided_run(run)
    desk.require_open(run.span.last_day)


def _refuse_twice(planned: PlannedActivity) -> None:
    others = PlannedActivity.objects.filter(
        run=planned.run, centre=planned.centre, activity=planned.activity, voided_at__isnull=True
    )
    if others.exclude(pk=planned.pk).exists():
        raise DomainError(_("It is planned in this centre already."), field="name")


def _refuse_second_need(need: PlannedMaterial) -> None:
    others = PlannedMaterial.objects.filter(
        run=need.run, centre=need.centre, material=need.material, voided_at__isnull=True
    )
    if others.exclude(pk=need.pk).exists():
        raise DomainError(_("It is on this list already. Change how many there."), field="name")
