"""What a child was seen doing, on a day of a theme's run if there was one."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from curriculum.models import Observation
from curriculum.selectors.runs import run_on
from provider.desk import writing
from provider.doors import Blank
from provider.errors import DomainError
from provider.models import Child, FileKind, Provider, StoredFile, User

# What an erase request takes from the observations.
BLANK = Blank(
    gettext_lazy("Observations and photos"),
    Observation,
    "child__household",
    {"text": "–", "goal": "", "for_family": False},
    files=("photo",),
)


def add_observation(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    day: date,
    text: str,
    goal: str = "",
    photo: StoredFile | None = None,
    for_family: bool = False,
    submission_key: str = "",
) -> Observation:
    """A dated observation of one child; the run of that day is found here. Raises DomainError for a photo that is none.

    `goal` is the code or the words of a skill, as the owner writes them.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Observation):
            return earlier
        row = Observation(provider=desk.provider, child=child)
        _fill(row, today, day=day, text=text, goal=goal, photo=photo, for_family=for_family)
        summary = _("Observed %(child)s on %(day)s") % {"child": child, "day": date_format(day)}
        desk.save(row, verb="add", summary=summary)
        desk.done(submission_key, row)
        return row


def change_observation(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    observation: Observation,
    version: int,
    day: date,
    text: str,
    goal: str = "",
    photo: StoredFile | None = None,
    for_family: bool = False,
    submission_key: str = "",
) -> Observation:
    """Raises StaleRow. Without a new `photo` the one that is there stays; the words stay out of the trail."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Observation):
            return earlier
        row = desk.fresh(observation, version)
        if row.voided_at:
            raise DomainError(_("This observation was taken out."))
        _fill(row, today, day=day, text=text, goal=goal, photo=photo or row.photo, for_family=for_family)
        desk.save(row)
        desk.audit("change", row, _("Changed an observation of %(child)s") % {"child": row.child})
        desk.done(submission_key, row)
        return row


def void_observation(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    observation: Observation,
    reason: str,
    submission_key: str = "",
) -> Observation:
    with writing(provider, actor) as desk:
        row = Observation.objects.get(pk=observation.pk, provider=desk.provider)
        return row if row.voided_at else desk.void(row, reason=reason)


def _fill(
    row: Observation, today: date, *, day: date, text: str, goal: str, photo: StoredFile | None, for_family: bool
) -> None:
    if day > today:
        raise DomainError(_("That day has not come yet."), field="day")
    if photo is not None and photo.kind != FileKind.JPEG:
        raise DomainError(_("A photo is wanted here, not a PDF."), field="photo")
    row.day, row.text, row.goal, row.photo, row.for_family = day, text, goal.strip(), photo, for_family
    row.run = run_on(row.provider, day)
