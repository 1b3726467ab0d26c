"""Routines by which materials are cleaned."""

from datetime import date

from django.utils.translation import gettext as _

from curriculum.models import CleaningRoutine, Material
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User


def add_routine(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    material: Material,
    act: str,
    every_days: int,
    last_done_on: date | None = None,
    note: str = "",
) -> CleaningRoutine:
    """`every_days` 0 means after each use."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CleaningRoutine):
            return earlier
        row = CleaningRoutine(provider=desk.provider, material=material)
        row = _write(desk, row, "add", today, act=act, every_days=every_days, last_done_on=last_done_on, note=note)
        desk.done(submission_key, row)
        return row


def change_routine(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    routine: CleaningRoutine,
    version: int,
    act: str,
    every_days: int,
    last_done_on: date | None = None,
    note: str = "",
) -> CleaningRoutine:
    with writing(provider, actor) as desk:
        row = _in_force(desk, routine, version)
        return _write(desk, row, "change", today, act=act, every_days=every_days, last_done_on=last_done_on, note=note)


def tick_cleaned(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    routine: CleaningRoutine,
) -> CleaningRoutine:
    """It was cleaned today."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CleaningRoutine):
            return earlier
        row = CleaningRoutine.objects.select_related("material").get(pk=routine.pk)
        if row.voided_at:
            raise DomainError(_("This routine was ended."))
        row.last_done_on = today
        desk.save(row, verb="clean", summary=_("Cleaned: %(what)s") % {"what": row})
        desk.done(submission_key, row)
        return row


def end_routine(
    *, provider: Provider, actor: User | None, today: date, routine: CleaningRoutine, version: int
) -> CleaningRoutine:
    with writing(provider, actor) as desk:
        row: CleaningRoutine = desk.void(_in_force(desk, routine, version), reason=_("routine ended"), verb="end")
        return row


def _in_force(desk: Desk, routine: CleaningRoutine, version: int) -> CleaningRoutine:
    row = desk.fresh(routine, version)
    if row.voided_at:
        raise DomainError(_("This routine was ended."))
    return row


def _write(
    desk: Desk,
    row: CleaningRoutine,
    verb: str,
    today: date,
    *,
    act: str,
    every_days: int,
    last_done_on: date | None,
    note: str,
) -> CleaningRoutine:
    if last_done_on is not None and last_done_on > today:
        raise DomainError(_("This day has not come yet."), field="last_done_on")
    row.act, row.every_days, row.last_done_on, row.note = act, every_days, last_done_on, note
    return desk.save(row, verb=verb)
