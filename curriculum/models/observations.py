"""What a child was seen doing."""

from django.db import models

from curriculum.models.themes import ThemeRun
from provider.models import Child, ProviderRow, StoredFile


class Observation(ProviderRow):
    """A dated observation of one child, with or without a goal of a skills framework and a photo."""

    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="observations")
    day = models.DateField()
    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, null=True, blank=True, related_name="observations")
    goal = models.CharField(max_length=40, blank=True)
    text = models.TextField()
    photo = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    for_family = models.BooleanField(default=False)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "day"], name="observation_by_day")]

    def __str__(self) -> str:
        return f"{self.day}"
