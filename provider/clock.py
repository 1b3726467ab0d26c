"""The edge where time enters. Views, commands and tasks ask here; everything inside is told."""

from datetime import date, datetime

from django.utils import timezone

from provider.models import Provider


def now() -> datetime:
    return timezone.now()


def today(provider: Provider) -> date:
    """The calendar day where the provider lives."""
    return timezone.now().astimezone(provider.zone).date()
