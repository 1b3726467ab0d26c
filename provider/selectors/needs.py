"""What children must avoid or have."""

from datetime import date

from django.db.models import QuerySet

from provider.models import CareNeed, CareNeedKind, Provider
from provider.models.base import holds_on


def needs_on(provider: Provider, day: date) -> QuerySet[CareNeed]:
    """Care needs in force on `day`, the most dangerous kind first."""
    rows = CareNeed.objects.filter(holds_on(day), provider=provider, voided_at=None)
    return rows.order_by("kind", "pk")


def children_with_allergies(provider: Provider, day: date) -> frozenset[int]:
    """Keys of the children who have an allergy on `day`. One query."""
    return frozenset(needs_on(provider, day).filter(kind=CareNeedKind.ALLERGY).values_list("child_id", flat=True))
