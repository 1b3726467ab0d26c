"""Themes with the times they ran, and the centres in the order of the walk."""

from django.db.models import Count, Max, QuerySet

from curriculum.models import LearningCentre, Theme
from provider.models import Provider


def themes_with_runs(provider: Provider) -> QuerySet[Theme]:
    """Themes by name, each with `times` it ran or is planned and the `latest` start."""
    themes = Theme.objects.filter(provider=provider)
    return themes.annotate(times=Count("runs"), latest=Max("runs__start")).order_by("name")


def centres_in_order(provider: Provider) -> QuerySet[LearningCentre]:
    return LearningCentre.objects.filter(provider=provider).order_by("position", "name")
