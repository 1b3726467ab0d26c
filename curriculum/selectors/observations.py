"""Observations as lists show them, and which photos a family may see."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from curriculum.models import Observation
from provider.models import Child, FamilyPaper, FamilyPaperKind, Household, Provider


def observations_of(provider: Provider, child: Child | None = None) -> QuerySet[Observation]:
    """The newest first, without those taken out."""
    rows = Observation.objects.filter(provider=provider, voided_at__isnull=True)
    rows = rows.select_related("child", "run__theme")
    return (rows.filter(child=child) if child else rows).order_by("-day", "-pk")


def goals_used(provider: Provider) -> list[str]:
    """The goals written so far, to be offered again. One query."""
    rows = Observation.objects.filter(provider=provider, voided_at__isnull=True).exclude(goal="")
    return list(rows.values_list("goal", flat=True).distinct().order_by("goal"))


@dataclass(frozen=True, slots=True)
class SeenByFamily:
    """An observation that its family may read; `shows_photo` only while the permission for photos holds."""

    observation: Observation
    shows_photo: bool


def family_observations(household: Household, today: date, *, at_most: int = 100) -> list[SeenByFamily]:
    """Two queries."""
    rows = observations_of(household.provider).filter(child__household=household, for_family=True)[:at_most]
    allowed = photos_allowed(household, {row.child_id for row in rows}, today)
    return [SeenByFamily(row, row.photo_id is not None and row.child_id in allowed) for row in rows]


def photos_allowed(household: Household, children: Iterable[int], today: date) -> set[int]:
    """The children (by primary key) whose photos may be shown. One query.

    The newest paper decides, be it of the child or of the whole family: a refusal ends an earlier permission, and one
    that lapsed does not bring back an older one.
    """
    papers = FamilyPaper.objects.filter(household=household, kind=FamilyPaperKind.PHOTOS, voided_at__isnull=True)
    newest: dict[int, FamilyPaper] = {}
    for paper in sorted(papers, key=lambda each: (each.signed_on or date.min, each.pk)):
        for child in children if paper.child_id is None else {paper.child_id}:
            newest[child] = paper
    return {child for child, paper in newest.items() if _holds(paper, today)}


def _holds(paper: FamilyPaper, today: date) -> bool:
    begun = paper.signed_on is not None and paper.signed_on <= today
    return paper.granted and begun and (paper.expires_on is None or today < paper.expires_on)
