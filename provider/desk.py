"""The one way to write: a locked provider, checked foreign keys, versions, submission keys and the audit trail."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from provider.errors import DomainError, ForeignRow, PeriodLocked, Refused, StaleRow
from provider.guards import require_reason
from provider.models import AuditEntry, PeriodLock, Provider, ProviderRow, Submission, User
from provider.models.base import Row

RowT = TypeVar("RowT", bound=Row)
ProviderRowT = TypeVar("ProviderRowT", bound=ProviderRow)

# Fields whose values never enter the trail: it says that they changed, not to what.
SENSITIVE = frozenset(
    {"password", "what", "action", "physician", "health_insurer", "birth_date", "phone", "email", "address"}
)
MASK = "•••"


class Desk:
    """What a service works at while the provider's row is locked. Made by `writing` only."""

    def __init__(self, provider: Provider, actor: User | None, signature: str = "") -> None:
        self.provider = provider
        self.actor = actor
        self.signature = signature
        self._locks: list[PeriodLock] | None = None

    def save(self, row: RowT, *, verb: str = "", summary: str = "") -> RowT:
        """Check the row's scope and its own rules, save it, and write the trail when a `verb` is given.

        Raises ForeignRow for a foreign key of another provider, and Refused for a broken rule of the row itself.
        """
        if isinstance(row, ProviderRow):
            self._check_scope(row)
        before = self._stored(row) if row.pk and verb else None
        if row.pk:
            row.version += 1
        try:
            row.full_clean()
        except ValidationError as error:
            raise Refused(error) from error
        row.save()
        if verb:
            self.audit(verb, row, summary, self._changes(before, row))
        return row

    def create_many(self, rows: list[ProviderRowT]) -> list[ProviderRowT]:
        """Save new rows of one kind in one statement, each checked for scope."""
        for row in rows:
            self._check_scope(row)
        return type(rows[0])._default_manager.bulk_create(rows) if rows else []

    def fresh(self, row: RowT, version: int) -> RowT:
        """Read the row again under the lock; StaleRow when it is not the version that the form was opened with."""
        current = type(row)._default_manager.get(pk=row.pk)
        if current.version != version:
            raise StaleRow(current)
        return current

    def once(self, key: str, model: type[ProviderRowT]) -> ProviderRowT | None:
        """Return what an earlier post with this submission key made, or None when the key is new.

        Raises DomainError when the key was sent with another form, or what it made is no longer there.
        """
        seen = Submission.objects.filter(provider=self.provider, key=key).first() if key else None
        if seen is None:
            return None
        made = model._default_manager.filter(provider=self.provider, public_id=seen.result_public_id).first()
        if made is None:
            raise DomainError(_("This form was sent before. Open its page anew."))
        return made

    def done(self, key: str, row: Row) -> None:
        """Remember that the submission `key` made `row`."""
        if key:
            Submission.objects.create(
                provider=self.provider, key=key, kind=row._meta.label_lower, result_public_id=row.public_id
            )

    def require_open(self, *days: date | None, field: str | None = None) -> None:
        """Raise PeriodLocked when one of the days lies in a closed period."""
        if self._locks is None:
            self._locks = list(PeriodLock.objects.filter(provider=self.provider, lifted_at__isnull=True))
        for day in days:
            for lock in self._locks:
                if day is not None and lock.start <= day < lock.end:
                    raise PeriodLocked(day, lock.reason, field=field)

    def require_open_span(self, start: date, end: date | None = None, *, field: str | None = None) -> None:
        """Raise PeriodLocked when [start, end) touches a closed period; an open end reaches over all that follow."""
        locks = PeriodLock.objects.filter(provider=self.provider, lifted_at__isnull=True, end__gt=start)
        if end is not None:
            locks = locks.filter(start__lt=end)
        if lock := locks.order_by("start").first():
            raise PeriodLocked(max(start, lock.start), lock.reason, field=field)

    def audit(self, verb: str, row: Row, summary: str = "", changes: dict[str, Any] | None = None) -> None:
        label = str(row)[:200]
        AuditEntry.objects.create(
            provider=self.provider,
            actor=self.actor,
            actor_label=(self.signature or str(self.actor or _("The computer")))[:150],
            verb=verb,
            object_kind=row._meta.label_lower,
            object_public_id=row.public_id,
            object_label=label,
            summary=(summary or f"{verb} {row._meta.verbose_name}: {label}")[:300],
            changes=changes or {},
        )

    def void(self, row: Any, *, reason: str, verb: str = "void") -> Any:
        """Take a row out of the books without deleting it."""
        require_reason(reason)
        row.voided_at = timezone.now()
        if hasattr(row, "void_reason"):
            row.void_reason = reason
        return self.save(row, verb=verb, summary=_("Voided %(row)s: %(reason)s") % {"row": row, "reason": reason})

    def _check_scope(self, row: ProviderRow) -> None:
        if row.provider_id != self.provider.pk:
            raise ForeignRow(_("This record belongs to another business."))
        for field in row._meta.concrete_fields:
            if isinstance(field, models.ForeignKey) and getattr(row, field.attname) is not None:
                other = getattr(row, field.name)
                if isinstance(other, ProviderRow) and other.provider_id != self.provider.pk:
                    raise ForeignRow(_("This record belongs to another business."), field=field.name)

    @staticmethod
    def _stored(row: RowT) -> RowT:
        return type(row)._default_manager.get(pk=row.pk)

    @staticmethod
    def _changes(before: Row | None, after: Row) -> dict[str, Any]:
        if before is None:
            return {}
        changes = {}
        for field in after._meta.concrete_fields:
            old, new = getattr(before, field.attname), getattr(after, field.attname)
            if old != new and field.name not in ("version", "created_at"):
                hidden = field.name in SENSITIVE
                changes[field.name] = [MASK, MASK] if hidden else [_printable(old), _printable(new)]
        return changes


def _printable(value: Any) -> str | None:
    return None if value is None else str(value)


@contextmanager
def writing(provider: Provider, actor: User | None = None, signature: str = "") -> Iterator[Desk]:
    """Open the one transaction of a public service, with the provider's row locked first.

    `signature` names whoever acts without a login, for the trail.
    """
    with transaction.atomic(durable=True):
        yield Desk(Provider.objects.select_for_update().get(pk=provider.pk), actor, signature)
