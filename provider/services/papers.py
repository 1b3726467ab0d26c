"""Papers of families and of the business: recorded, renewed by a new row, taken out when entered by mistake."""

from collections.abc import Mapping
from datetime import date
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Child, FamilyPaper, Household, OwnPaper, Person, Provider, User

PaperT = TypeVar("PaperT", FamilyPaper, OwnPaper)


def record_family_paper(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    household: Household,
    kind: str,
    child: Child | None = None,
    submission_key: str = "",
    **fields: Any,
) -> FamilyPaper:
    """Record a paper of a family, or of one of its children; a renewal is recorded like a first one.

    `fields` are any of title, edition, granted, signed_on, expires_on, file (a StoredFile) and note.
    """
    with writing(provider, actor) as desk:
        row = FamilyPaper(provider=desk.provider, household=household, child=child, kind=kind)
        return _record(desk, row, today, fields, submission_key)


def record_own_paper(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    kind: str,
    title: str,
    issued_on: date,
    person: Person | None = None,
    submission_key: str = "",
    **fields: Any,
) -> OwnPaper:
    """Record a paper of the business, or of a person in it. `fields` are any of expires_on, hours, file and note."""
    with writing(provider, actor) as desk:
        row = OwnPaper(provider=desk.provider, person=person, kind=kind, title=title, issued_on=issued_on)
        return _record(desk, row, today, fields, submission_key)


def change_paper(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    paper: PaperT,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> PaperT:
    """Correct what was entered; without a new `file` the one that was sent in stays. Raises StaleRow."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, type(paper)):
            return earlier
        row = desk.fresh(paper, version)
        if fields.get("file") is None:
            fields.pop("file", None)
        _fill(row, today, fields)
        desk.save(row, verb="change", summary=_("Changed the paper %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def void_paper(
    *, provider: Provider, actor: User | None, today: date, paper: PaperT, reason: str, submission_key: str = ""
) -> PaperT:
    """Take out a paper that was entered by mistake; a lapsed one is renewed instead."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, type(paper)):
            return earlier
        row: PaperT = desk.void(type(paper).objects.get(pk=paper.pk), reason=reason)
        desk.done(submission_key, row)
        return row


def _record(desk: Desk, row: PaperT, today: date, fields: Mapping[str, Any], submission_key: str) -> PaperT:
    if earlier := desk.once(submission_key, type(row)):
        return earlier
    _fill(row, today, fields)
    desk.save(row, verb="record", summary=_("Recorded the paper %(row)s") % {"row": row})
    desk.done(submission_key, row)
    return row


def _fill(row: FamilyPaper | OwnPaper, today: date, fields: Mapping[str, Any]) -> None:
    for name, value in fields.items():
        setattr(row, name, value)
    signed = "signed_on" if isinstance(row, FamilyPaper) else "issued_on"
    on: date | None = getattr(row, signed)
    if on is not None and on > today:
        raise DomainError(_("This day lies in the future."), field=signed)
    if on is not None and row.expires_on is not None and row.expires_on <= on:
        raise DomainError(_("The paper must count for at least a day."), field="expires_on")
    if isinstance(row, FamilyPaper) and row.child is not None and row.child.household_id != row.household_id:
        raise DomainError(_("The child belongs to another family."), field="child")
