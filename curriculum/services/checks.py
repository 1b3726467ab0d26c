"""What somebody looked at of a material: its measures and parts, and whether it was recalled."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from curriculum.models import Acquisition, Material, RecallCheck, RecallResult, SafetyFacts
from provider.desk import writing
from provider.errors import DomainError, StaleRow
from provider.models import Provider, User

AGAIN_AFTER_MONTHS = 6


def note_facts(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    material: Material,
    version: int | None = None,
    smallest: Sequence[Decimal | None] = (),
    **seen: Any,
) -> SafetyFacts:
    """Note what was measured or seen of a material; what is left out counts as not looked at.

    `smallest` are up to three sides of its smallest piece in any order, `seen` the other fields of SafetyFacts.
    `version` is that of the facts noted before, None when there were none. Raises StaleRow.
    """
    with writing(provider, actor) as desk:
        facts = SafetyFacts.objects.filter(provider=desk.provider, material=material).first()
        if facts is None:
            facts = SafetyFacts(provider=desk.provider, material=material)
        elif facts.version != version:
            raise StaleRow(facts)
        known = sorted(side for side in smallest if side is not None)
        facts.smallest_a, facts.smallest_b, facts.smallest_c = [*known, None, None, None][:3]
        for name, value in seen.items():
            setattr(facts, name, value)
        return desk.save(facts, verb="note")


def record_recall_check(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    lot: Acquisition,
    on: date,
    where: str,
    result: str,
    again_on: date | None = None,
    note: str = "",
) -> RecallCheck:
    """Record a recall look-up. Without `again_on` it is to be repeated half a year later, unless it was recalled."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, RecallCheck):
            return earlier
        if lot.voided_at:
            raise DomainError(_("This lot was voided."))
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        if again_on is not None and again_on <= on:
            raise DomainError(_("Look again on a later day."), field="again_on")
        if again_on is None and result != RecallResult.RECALLED:
            again_on = months_later(on, AGAIN_AFTER_MONTHS)
        row = RecallCheck(
            provider=desk.provider, lot=lot, on=on, where=where, result=result, again_on=again_on, note=note
        )
        desk.save(row, verb="check")
        desk.done(submission_key, row)
        return row


def months_later(day: date, months: int) -> date:
    """The same day of the month, or its last when it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    following = date(year + (month + 1) // 12, (month + 1) % 12 + 1, 1)
    last = (following - date(year, month + 1, 1)).days
    return date(year, month + 1, min(day.day, last))
