"""Themes with the times they ran, and the centres in the order of the walk."""

from django.db.models import Count, Max, Q, QuerySet

from curriculum.models import LearningCentre, Placement, PlannedActivity, PlannedMaterial, Theme, ThemeRun
from provider.models import Provider

LIVE = Q(runs__voided_at__isnull=True)


def themes_with_runs(provider: Provider) -> QuerySet[Theme]:
    """Themes by name, each with `times` it ran or is planned and the `latest` start."""
    themes = Theme.objects.filter(provider=provider)
    return themes.annotate(times=Count("runs", filter=LIVE), latest=Max("runs__start", filter=LIVE)).order_by("name")


def centres_in_order(provider: Provider) -> QuerySet[LearningCentre]:
    """The centres in use, in the order of the walk."""
    return LearningCentre.objects.filter(provider=provider, retired_at__isnull=True).order_by("position", "name")


def retired_centres(provider: Provider) -> QuerySet[LearningCentre]:
    return LearningCentre.objects.filter(provider=provider, retired_at__isnull=False).order_by("name")


def centres_of(run: ThemeRun) -> QuerySet[LearningCentre]:
    """The centres in use, and those retired since that the run has something in, in the order of the walk."""
    used = [
        kind.objects.filter(run=run, voided_at__isnull=True, centre__isnull=False).values("centre")
        for kind in (Placement, PlannedActivity, PlannedMaterial)
    ]
    wanted = Q(retired_at__isnull=True) | Q(pk__in=used[0]) | Q(pk__in=used[1]) | Q(pk__in=used[2])
    return LearningCentre.objects.filter(wanted, provider=run.provider).order_by("position", "name")
