"""Themes and their monthly runs."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.fields import MoneyField
from provider.models import ProviderRow, WorkEntry
from provider.models.base import ends_after_start
from provider.periods import DateSpan


class Theme(ProviderRow):
    """A reusable idea. `hue` (0-359) tints the month in which it runs."""

    name = models.CharField(max_length=80)
    hue = models.PositiveSmallIntegerField(default=150)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider", "name"], name="theme_name_once"),
            models.CheckConstraint(condition=models.Q(hue__lt=360), name="theme_hue_on_the_wheel"),
        ]

    def __str__(self) -> str:
        return self.name


class ThemeRuns(models.QuerySet["ThemeRun"]):
    def live(self) -> "ThemeRuns":
        """Without runs that were planned by mistake."""
        return self.filter(voided_at__isnull=True)


class ThemeRun(ProviderRow):
    """One run of a theme during [start, end). Costs, photos and notes belong to the run. Runs never overlap."""

    theme = models.ForeignKey(Theme, on_delete=models.PROTECT, related_name="runs")
    start = models.DateField()
    end = models.DateField()
    budget = MoneyField(null=True, blank=True)
    note = models.TextField(blank=True)
    started_from = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = ThemeRuns.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["provider", "start"], condition=models.Q(voided_at__isnull=True), name="run_one_start"
            ),
            ends_after_start(name="run_span"),
        ]

    def __str__(self) -> str:
        return f"{self.theme} ({self.start:%Y-%m})"

    @property
    def span(self) -> DateSpan:
        return DateSpan(self.start, self.end)


class RunWork(ProviderRow):
    """Says that a piece of work was done for a run, so that hours stand beside the run's cost."""

    work = models.OneToOneField(WorkEntry, on_delete=models.PROTECT, related_name="run_work")
    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, related_name="work")
    centre = models.ForeignKey(
        "curriculum.LearningCentre", on_delete=models.PROTECT, null=True, blank=True, related_name="work"
    )

    def __str__(self) -> str:
        return f"{self.run}: {self.work}"


class LearningCentre(ProviderRow):
    """A place in the playroom, named by the owner. `target_pieces` is how many pieces should lie out."""

    name = models.CharField(max_length=80)
    target_pieces = models.PositiveSmallIntegerField(default=0)
    position = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "name"], name="centre_name_once")]
        verbose_name = _("learning centre")

    def __str__(self) -> str:
        return self.name
