"""Refusals that many services share, each said in one way."""

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from provider.errors import DomainError
from provider.models.base import Row

# Clocks of a phone and of the server differ a little.
AHEAD = timedelta(minutes=2)


def require_reason(reason: str, *, field: str = "reason") -> None:
    """Raise DomainError for a blank reason."""
    if not reason.strip():
        raise DomainError(_("Say why, so that it can be understood later."), field=field)


def require_past(at: datetime | None, now: datetime, *, field: str) -> None:
    """Raise DomainError for an instant, where there is one, more than two minutes after `now`; both aware."""
    if at is not None and at > now + AHEAD:
        raise DomainError(_("That time has not come yet."), field=field)


def require_past_day(day: date, today: date, *, field: str | None = None) -> None:
    """Raise DomainError for a day after `today`."""
    if day > today:
        raise DomainError(_("That day has not come yet."), field=field)


def set_fields(row: Row, fields: Mapping[str, Any], allowed: Collection[str]) -> None:
    """Set the fields of a row by name. TypeError, a mistake of the caller, for one that is not `allowed`."""
    if unknown := fields.keys() - set(allowed):
        raise TypeError(f"cannot set {', '.join(sorted(unknown))}")
    for name, value in fields.items():
        setattr(row, name, value)
