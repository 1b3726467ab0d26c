"""The waiting list: asked, offered, and then enrolled or withdrawn."""

from collections.abc import Iterable
from datetime import date, time
from typing import Any

from django.utils.translation import gettext as _

from provider.desk import writing
from provider.errors import DomainError
from provider.guards import set_fields
from provider.models import Child, Guardian, Household, Provider, User, WaitingChild, WaitStatus
from provider.services.families import PatternInput, insert_child, insert_place

FIELDS = frozenset(
    {
        "child_name",
        "birth_date",
        "contact_name",
        "phone",
        "email",
        "asked_on",
        "wanted_start",
        "weekdays",
        "arrives",
        "leaves",
        "note",
    }
)
# From where to where a place on the list may go; who is enrolled stays so.
TURNS = {
    WaitStatus.OFFERED: (WaitStatus.WAITING,),
    WaitStatus.WITHDRAWN: (WaitStatus.WAITING, WaitStatus.OFFERED),
    WaitStatus.WAITING: (WaitStatus.OFFERED, WaitStatus.WITHDRAWN),
}


def add_waiting(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child_name: str,
    contact_name: str,
    wanted_start: date,
    arrives: time,
    leaves: time,
    submission_key: str = "",
    **fields: Any,
) -> WaitingChild:
    """Put a child on the list. `fields` are any other of FIELDS; a birth date may lie ahead."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WaitingChild):
            return earlier
        row = WaitingChild(provider=desk.provider, asked_on=today)
        given = {
            "child_name": child_name,
            "contact_name": contact_name,
            "wanted_start": wanted_start,
            "arrives": arrives,
            "leaves": leaves,
        }
        _fill(row, {**given, **fields})
        desk.save(row, verb="add", summary=_("Put %(child)s on the waiting list") % {"child": row})
        desk.done(submission_key, row)
        return row


def change_waiting(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    waiting: WaitingChild,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> WaitingChild:
    """Change any of FIELDS. Raises StaleRow."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WaitingChild):
            return earlier
        row = desk.fresh(waiting, version)
        _fill(row, fields)
        desk.save(row, verb="change", summary=_("Changed %(child)s on the waiting list") % {"child": row})
        desk.done(submission_key, row)
        return row


def turn_waiting(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    waiting: WaitingChild,
    status: str,
    submission_key: str = "",
) -> WaitingChild:
    """Offer a place, take the child off the list, or put it back. Doing so twice changes nothing."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WaitingChild):
            return earlier
        row = WaitingChild.objects.get(pk=waiting.pk)
        if row.status == status:
            return row
        if row.status not in TURNS.get(WaitStatus(status), ()):
            raise DomainError(_("%(child)s is enrolled already.") % {"child": row})
        row.status = status
        desk.save(
            row,
            verb="change",
            summary=_("%(child)s on the waiting list: %(status)s") % {"child": row, "status": row.get_status_display()},
        )
        desk.done(submission_key, row)
        return row


def enrol_waiting(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    waiting: WaitingChild,
    household: Household | None,
    family_name: str,
    name: str,
    birth_date: date,
    start: date,
    pattern: Iterable[PatternInput],
    end: date | None = None,
    guardian_name: str = "",
    phone: str = "",
    email: str = "",
    submission_key: str = "",
) -> Child:
    """Turn a waiting child into a child with a place, in `household` or else in a new one of `family_name`."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Child):
            return earlier
        row = WaitingChild.objects.get(pk=waiting.pk)
        if row.status == WaitStatus.ENROLLED:
            raise DomainError(_("%(child)s is enrolled already.") % {"child": row})
        if household is None:
            if not family_name:
                raise DomainError(_("Choose a family, or name a new one."), field="family_name")
            household = Household(provider=desk.provider, name=family_name, phone=phone, email=email)
            if Household.objects.filter(provider=desk.provider, name=family_name).exists():
                raise DomainError(_("There is a family of this name; choose it above."), field="family_name")
            desk.save(household, verb="add", summary=_("Added the household %(row)s") % {"row": family_name})
        if guardian_name and not household.guardians.filter(name=guardian_name).exists():
            guardian = Guardian(
                provider=desk.provider, household=household, name=guardian_name, phone=phone, email=email
            )
            desk.save(guardian, verb="add", summary=_("Added the guardian %(row)s") % {"row": guardian_name})
        child = insert_child(desk, today=today, household=household, name=name, birth_date=birth_date)
        insert_place(desk, child=child, start=start, end=end, pattern=pattern)
        row.status, row.child = WaitStatus.ENROLLED, child
        desk.save(row, verb="enrol", summary=_("Enrolled %(child)s from the waiting list") % {"child": row})
        desk.done(submission_key, child)
        return child


def _fill(row: WaitingChild, fields: dict[str, Any]) -> None:
    set_fields(row, fields, FIELDS)
    if row.leaves <= row.arrives:
        raise DomainError(_("This must be later than the time before it."), field="leaves")
    if not row.weekdays:
        raise DomainError(_("Tick at least one weekday."), field="weekdays")
