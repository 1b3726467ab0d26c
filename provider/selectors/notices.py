"""Which families a message reaches, and what a family finds at its own door."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, QuerySet

from provider.models import DayNote, FamilyNotice, Household, NoticeDelivery, Provider
from provider.models.base import holds_on


@dataclass(frozen=True, slots=True)
class Reached:
    """A household and the addresses its copy goes to, its own first, each once."""

    household: Household
    addresses: tuple[str, ...]


def families_on(provider: Provider, day: date) -> list[Reached]:
    """Households of other people's children with a place on `day`, by name. Two queries."""
    households = (
        Household.objects.filter(
            holds_on(day, of="children__enrolments__"), provider=provider, children__is_own_child=False
        )
        .distinct()
        .order_by("name")
    )
    return [Reached(each, tuple(addresses_of(each))) for each in households.prefetch_related("guardians")]


def addresses_of(household: Household) -> list[str]:
    """The household's own address and those of its guardians, each once. One query unless they were prefetched."""
    found = [household.email, *(guardian.email for guardian in household.guardians.all())]
    return list(dict.fromkeys(address for address in found if address))


def notices_of(provider: Provider) -> QuerySet[FamilyNotice]:
    """The newest first, with how many families it was for and how many e-mails went out."""
    return (
        FamilyNotice.objects.filter(provider=provider)
        .annotate(families=Count("deliveries"), sent=Count("deliveries", filter=Q(deliveries__sent_at__isnull=False)))
        .order_by("-day", "-pk")
    )


def deliveries_of(notice: FamilyNotice) -> list[NoticeDelivery]:
    """One query."""
    return list(notice.deliveries.select_related("household").order_by("household__name"))


@dataclass(frozen=True, slots=True)
class FamilyDays:
    """What a family may read: messages to all families, and notes about its own children."""

    notices: tuple[FamilyNotice, ...]
    notes: tuple[DayNote, ...]


def family_days(household: Household, *, at_most: int = 60) -> FamilyDays:
    """The newest first. Two queries."""
    notices = FamilyNotice.objects.filter(deliveries__household=household).order_by("-day", "-pk")
    notes = DayNote.objects.filter(child__household=household, for_family=True, voided_at__isnull=True)
    return FamilyDays(tuple(notices[:at_most]), tuple(notes.select_related("child").order_by("-day", "-pk")[:at_most]))
