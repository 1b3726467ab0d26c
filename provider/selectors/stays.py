"""Who is here: the stays that have not ended."""

from datetime import timedelta

from django.db.models import QuerySet

from provider.models import Attendance, Child, Provider

# A longer one is a departure that nobody wrote down.
LONGEST_STAY = timedelta(hours=24)


def still_here(provider: Provider) -> QuerySet[Attendance]:
    """The stays that have not ended, of whatever day; they have an index of their own, which an OR would miss."""
    return Attendance.objects.filter(
        provider=provider, arrived_at__isnull=False, left_at__isnull=True, voided_at__isnull=True
    ).select_related("child", "provider")


def open_stay(provider: Provider, child: Child) -> Attendance | None:
    """The stay that a child who is here has begun; stays do not overlap, so there is one at most."""
    return next(iter(still_here(provider).filter(child=child)), None)
