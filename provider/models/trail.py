"""What was done, what may no longer be done, and the papers kept beside the records."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.models.base import ProviderRow, ends_after_start, new_public_id


class AuditEntry(models.Model):
    """Who did what and when, in a person's words. It copies the object's label, so that history outlives the object."""

    provider = models.ForeignKey("provider.Provider", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    actor_label = models.CharField(max_length=150)
    verb = models.CharField(max_length=30)
    object_kind = models.CharField(max_length=60)
    object_public_id = models.CharField(max_length=16)
    object_label = models.CharField(max_length=200)
    summary = models.CharField(max_length=300)
    changes = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(fields=["provider", "at"], name="audit_by_time"),
            models.Index(fields=["object_public_id"], name="audit_by_object"),
        ]

    def __str__(self) -> str:
        return self.summary


class Submission(models.Model):
    """A form that was already carried out, so that a second click or a resent post changes nothing."""

    provider = models.ForeignKey("provider.Provider", on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=64)
    kind = models.CharField(max_length=60)
    result_public_id = models.CharField(max_length=16)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "key"], name="submission_once")]

    def __str__(self) -> str:
        return self.kind


class PeriodLock(ProviderRow):
    """Nothing dated in [start, end) may change until the lock is lifted with a reason."""

    start = models.DateField()
    end = models.DateField()
    reason = models.CharField(max_length=200)
    lifted_at = models.DateTimeField(null=True, blank=True, editable=False)
    lift_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [ends_after_start(name="period_lock_span")]

    def __str__(self) -> str:
        return self.reason


def upload_path(stored: "StoredFile", _name: str) -> str:
    """A random name: nothing of the original name, the child or the business shows in the file system."""
    name = new_public_id()
    return f"{name[:2]}/{name}.{stored.extension}"


class FileKind(models.TextChoices):
    JPEG = "image/jpeg", _("Photo")
    PDF = "application/pdf", _("PDF")


class StoredFile(ProviderRow):
    """An uploaded paper: pictures re-encoded as JPEG without location data, PDFs checked. `size` in bytes."""

    file = models.FileField(upload_to=upload_path, max_length=120)
    kind = models.CharField(max_length=20, choices=FileKind)
    original_name = models.CharField(max_length=200, blank=True)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, help_text=_("Of what was sent, to notice the same paper twice"))

    class Meta:
        indexes = [models.Index(fields=["provider", "sha256"], name="stored_file_by_hash")]

    def __str__(self) -> str:
        return self.original_name or self.public_id

    @property
    def extension(self) -> str:
        return "pdf" if self.kind == FileKind.PDF else "jpg"
