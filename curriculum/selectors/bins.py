"""Bins and what is inside."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, QuerySet

from curriculum.models import Bin, Material
from curriculum.selectors.stock import on_hand_of
from provider.models import Provider


@dataclass(frozen=True, slots=True)
class Kept:
    """A material in a bin with its pieces on hand."""

    material: Material
    pieces: Decimal


def bins_in_order(provider: Provider) -> QuerySet[Bin]:
    return Bin.objects.filter(provider=provider).order_by("label", "pk")


def bins_with_counts(provider: Provider) -> QuerySet[Bin]:
    """Bins by label, each with the number of `kinds` of material in it."""
    return bins_in_order(provider).annotate(kinds=Count("materials"))


def contents_of(bin: Bin) -> list[Kept]:
    """What is kept in a bin, by name. Five queries."""
    materials = list(Material.objects.filter(bin=bin).select_related("photo").order_by("name"))
    pieces = on_hand_of(materials)
    return [Kept(material, pieces[material.pk]) for material in materials]
