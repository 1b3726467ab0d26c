"""Errors a person can act on. Services raise them; views show `message` beside `field`."""

from datetime import date

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.models.base import Row


class DomainError(Exception):
    """A rule of the house was broken. `field` names the form field to show the message beside, if any."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class Refused(DomainError):
    """A row broke one of its own rules (a constraint, a choice, a length)."""

    def __init__(self, error: ValidationError) -> None:
        field, messages = next(iter(error.message_dict.items()))
        super().__init__(" ".join(messages), field=None if field == NON_FIELD_ERRORS else field)


class StaleRow(DomainError):
    """Somebody else saved the row after this form was opened."""

    def __init__(self, row: Row) -> None:
        super().__init__(
            _("%(row)s was changed by somebody else while you were editing. Look at both versions, then save again.")
            % {"row": row}
        )
        self.row = row


class ForeignRow(DomainError):
    """A row points at another provider's row."""


class PeriodLocked(DomainError):
    """The date lies in a period that was closed."""

    def __init__(self, on: date, reason: str, *, field: str | None = None) -> None:
        super().__init__(
            _("%(on)s lies in a closed period (%(reason)s). Reopen it on the Year end page to change it.")
            % {"on": date_format(on), "reason": reason},
            field=field,
        )
        self.on = on
        self.reason = reason
