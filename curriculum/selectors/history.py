"""What was done to a lot, from the trail."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from curriculum.models import Acquisition, Placement, PutAway
from provider.models import AuditEntry

AT_MOST = 100
FIELDS = {
    "on": _("When it came"),
    "how": _("How it came"),
    "quantity": _("How many"),
    "basis": _("What it cost"),
    "residual": _("Value at the end"),
    "expected_uses": _("Runs it should last"),
    "source": _("Where it came from"),
    "estimated_value": _("Estimated value"),
    "note": _("Notes"),
}


@dataclass(frozen=True, slots=True)
class Deed:
    """One act. `changes` are what was corrected of the lot: the field in words, before, after."""

    entry: AuditEntry
    changes: Sequence[tuple[Any, str, str]]


def history_of(lot: Acquisition) -> list[Deed]:
    """What was done to a lot, where it was laid out and how it was counted, the latest hundred first. One query."""
    placements = Placement.objects.filter(lot=lot)
    about = (
        Q(object_public_id=lot.public_id)
        | Q(object_public_id__in=placements.values("public_id"))
        | Q(object_public_id__in=PutAway.objects.filter(placement__in=placements).values("public_id"))
    )
    entries = AuditEntry.objects.filter(about, provider=lot.provider_id)
    return [
        Deed(
            entry,
            [
                (FIELDS[name], before or "–", after or "–")
                for name, (before, after) in entry.changes.items()
                if name in FIELDS and entry.verb == "correct"
            ],
        )
        for entry in entries.order_by("-at", "-pk")[:AT_MOST]
    ]
