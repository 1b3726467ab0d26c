"""Who waits for a place."""

from django.db.models import QuerySet

from provider.models import Provider, WaitingChild, WaitStatus

OPEN = (WaitStatus.WAITING, WaitStatus.OFFERED)


def waiting_list(provider: Provider, *, closed: bool = False) -> QuerySet[WaitingChild]:
    """Whoever waits or was offered a place, by wanted start, then by who asked first; `closed` are the others."""
    rows = WaitingChild.objects.filter(provider=provider)
    rows = rows.exclude(status__in=OPEN) if closed else rows.filter(status__in=OPEN)
    return rows.order_by("-wanted_start", "-pk") if closed else rows.order_by("wanted_start", "asked_on", "pk")
