"""Hours worked for a run."""

from datetime import date, datetime

from curriculum.models import LearningCentre, RunWork, ThemeRun
from curriculum.services.runs import refuse_voided_run
from provider.desk import Desk, writing
from provider.models import Provider, User, WorkEntry
from provider.services.hours import WorkInput, enter_work


def log_run_work(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    submission_key: str = "",
    run: ThemeRun,
    kind: str,
    started_at: datetime,
    ended_at: datetime,
    at_home: bool = True,
    person: str = "",
    note: str = "",
    centre: LearningCentre | None = None,
) -> RunWork:
    """Log work for a run, in a centre of it or none, with the checks of `provider.services.hours.log_work`."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, RunWork):
            return earlier
        refuse_voided_run(run)
        work = enter_work(desk, WorkInput(kind, started_at, ended_at, at_home, person, note), now=now)
        row = desk.save(RunWork(provider=desk.provider, run=run, work=work, centre=centre))
        desk.done(submission_key, row)
        return row


def note_run(desk: Desk, work: WorkEntry, run: str, centre: str = "") -> None:
    """Note at the desk of another service that `work` was for the run and the centre with these public ids.

    Nothing is noted when the run is gone.
    """
    row = ThemeRun.objects.filter(provider=desk.provider, public_id=run, voided_at__isnull=True).first()
    if row is not None:
        where = LearningCentre.objects.filter(provider=desk.provider, public_id=centre).first() if centre else None
        desk.save(RunWork(provider=desk.provider, run=row, work=work, centre=where))
