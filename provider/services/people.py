"""What is kept beside a child: emergency contacts, people who may collect, care needs."""

from datetime import date
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from provider.desk import writing
from provider.errors import DomainError
from provider.guards import set_fields
from provider.models import CareNeed, Child, Collector, EmergencyContact, Provider, User

Beside = EmergencyContact | Collector | CareNeed
BesideT = TypeVar("BesideT", EmergencyContact, Collector, CareNeed)
FIELDS: dict[type[Any], frozenset[str]] = {
    EmergencyContact: frozenset({"name", "relation", "phone", "position"}),
    Collector: frozenset({"name", "relation", "phone", "start", "end"}),
    CareNeed: frozenset({"kind", "what", "action", "posted", "start", "end"}),
}


def add_beside(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    model: type[BesideT],
    submission_key: str = "",
    **fields: Any,
) -> BesideT:
    """Add a row of `model` to a child. `fields` are those that FIELDS names for it."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, model):
            return earlier
        row = model(provider=desk.provider, child=child)
        _fill(row, fields)
        summary = _("Added to %(child)s: %(kind)s") % {"child": child, "kind": model._meta.verbose_name}
        desk.save(row, verb="add", summary=summary)
        desk.done(submission_key, row)
        return row


def change_beside(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    row: BesideT,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> BesideT:
    """Change any of the row's FIELDS. Raises StaleRow."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, type(row)):
            return earlier
        current = desk.fresh(row, version)
        _fill(current, fields)
        summary = _("Changed of %(child)s: %(kind)s") % {"child": row.child, "kind": row._meta.verbose_name}
        desk.save(current, verb="change", summary=summary)
        desk.done(submission_key, current)
        return current


def void_beside(
    *, provider: Provider, actor: User | None, today: date, row: BesideT, reason: str, submission_key: str = ""
) -> BesideT:
    """Take a row out that was entered by mistake. What merely ended gets an end instead."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, type(row)):
            return earlier
        current: BesideT = desk.void(type(row).objects.get(pk=row.pk), reason=reason)
        desk.done(submission_key, current)
        return current


def _fill(row: Beside, fields: dict[str, Any]) -> None:
    set_fields(row, fields, FIELDS[type(row)])
    if not isinstance(row, EmergencyContact) and row.end is not None and row.end <= row.start:
        raise DomainError(_("The last day lies before the first."), field="last_day")
