"""Themes, their runs, and the learning centres of the playroom."""

from datetime import date
from decimal import Decimal

from django.db.models import Max
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from curriculum.models import LearningCentre, PutAway, Theme, ThemeRun
from curriculum.services.names import refuse_taken_name
from curriculum.services.runs import copy_plan, refuse_voided_run
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User
from provider.periods import DateSpan


class RunsOverlap(DomainError):
    """Two runs would share a day. `other` is the run that is there already."""

    def __init__(self, other: ThemeRun) -> None:
        super().__init__(
            _("“%(theme)s” runs from %(start)s to %(last)s. Runs may not share a day.")
            % {
                "theme": other.theme,
                "start": date_format(other.start),
                "last": date_format(other.span.last_day),
            },
            field="start",
        )
        self.other = other


def add_theme(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    name: str,
    hue: int = 150,
    note: str = "",
) -> Theme:
    """Add an idea for a month. `hue` in degrees, 0 to 359."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Theme):
            return earlier
        refuse_taken_name(desk, Theme, name)
        theme = desk.save(Theme(provider=desk.provider, name=name, hue=hue, note=note), verb="add")
        desk.done(submission_key, theme)
        return theme


def change_theme(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    theme: Theme,
    version: int,
    name: str,
    hue: int,
    note: str = "",
) -> Theme:
    with writing(provider, actor) as desk:
        theme = desk.fresh(theme, version)
        refuse_taken_name(desk, Theme, name, theme)
        theme.name, theme.hue, theme.note = name, hue, note
        return desk.save(theme, verb="change")


def plan_run(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    theme: Theme,
    start: date,
    end: date,
    budget: Decimal | None = None,
    note: str = "",
    start_from: ThemeRun | None = None,
) -> ThemeRun:
    """Plan a theme for [start, end). Raises RunsOverlap, and PeriodLocked by the run's last day.

    `start_from` is a run to begin from, of this theme or another: the plan is copied, and its notes and budget are
    taken over where none are given.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, ThemeRun):
            return earlier
        run = ThemeRun(provider=desk.provider, theme=theme, start=start, end=end, budget=budget, note=note)
        if start_from is not None:
            refuse_voided_run(start_from)
            run.started_from = start_from
            run.budget = start_from.budget if budget is None else budget
            run.note = note or start_from.note
        _check_dates(desk, run)
        desk.save(run, verb="plan")
        if start_from is not None:
            copy_plan(desk, start_from, run)
        desk.done(submission_key, run)
        return run


def change_run(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    run: ThemeRun,
    version: int,
    theme: Theme,
    start: date,
    end: date,
    budget: Decimal | None = None,
    note: str = "",
) -> ThemeRun:
    """Change a run. What lay in it stays true: no lot came after it ended, nothing was put away before it began."""
    with writing(provider, actor) as desk:
        run = desk.fresh(run, version)
        refuse_voided_run(run)
        desk.require_open(run.span.last_day, field="end")
        run.theme, run.start, run.end, run.budget, run.note = theme, start, end, budget, note
        _check_dates(desk, run)
        if PutAway.objects.filter(placement__run=run, voided_at__isnull=True, on__lt=start).exists():
            raise DomainError(_("Something was put away before this day."), field="start")
        if run.placements.filter(voided_at__isnull=True, lot__on__gte=end).exists():
            raise DomainError(_("Something lies in it that came only later."), field="end")
        return desk.save(run, verb="change")


def add_centre(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    name: str,
    target_pieces: int = 0,
    position: int | None = None,
) -> LearningCentre:
    """Add a centre, after the others unless `position` says where."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, LearningCentre):
            return earlier
        refuse_taken_name(desk, LearningCentre, name)
        if position is None:
            last = LearningCentre.objects.filter(provider=desk.provider).aggregate(last=Max("position"))["last"]
            position = (last or 0) + 1
        centre = LearningCentre(provider=desk.provider, name=name, target_pieces=target_pieces, position=position)
        desk.save(centre, verb="add")
        desk.done(submission_key, centre)
        return centre


def change_centre(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    centre: LearningCentre,
    version: int,
    name: str,
    target_pieces: int,
    position: int | None = None,
) -> LearningCentre:
    with writing(provider, actor) as desk:
        centre = desk.fresh(centre, version)
        refuse_taken_name(desk, LearningCentre, name, centre)
        centre.name, centre.target_pieces = name, target_pieces
        if position is not None:
            centre.position = position
        return desk.save(centre, verb="change")


def retire_centre(
    *, provider: Provider, actor: User | None, today: date, centre: LearningCentre, version: int
) -> LearningCentre:
    """Take a centre out of the room, or bring it back. Runs that had something in it still show it."""
    with writing(provider, actor) as desk:
        centre = desk.fresh(centre, version)
        centre.retired_at = None if centre.retired_at else timezone.now()
        return desk.save(centre, verb="retire" if centre.retired_at else "bring back")


def _check_dates(desk: Desk, run: ThemeRun) -> None:
    if run.end <= run.start:
        raise DomainError(_("The last day comes before the first."), field="end")
    desk.require_open(DateSpan(run.start, run.end).last_day, field="end")
    others = ThemeRun.objects.live().filter(provider=desk.provider, start__lt=run.end, end__gt=run.start)
    if other := others.exclude(pk=run.pk).select_related("theme").first():
        raise RunsOverlap(other)
