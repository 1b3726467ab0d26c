"""What children must avoid or have."""

from datetime import date

from django.db.models import Q, QuerySet

from provider.models import CareNeed, CareNeedKind, Provider


def needs_on(provider: Provider, day: date) -> QuerySet[CareNeed]:
    """Care needs in force on `day`, the most dangerous kind first."""
    rows = CareNeed.objects.filter(Q(end=None) | Q(end__gt=day), provider=provider, voided_at=None, start__lte=day)
    return rows.order_by("kind", "pk")


def children_with_allergies(provider: Provider, day: date) -> frozenset[int]:
    """Keys of the children who have an allergy on `day`. One query."""
    return frozenset(needs_on(provider, day).filter(kind=CareNeedKind.ALLERGY).values_list("child_id", flat=True))
