"""Places and the terms agreed for them."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from billing.models import Agreement, Payer
from provider.access import BOOKS
from provider.models import Child, Enrolment, Household, Provider
from provider.models.base import ends_after, holds_on


@dataclass(frozen=True, slots=True)
class Place:
    """A place that is or will be billed, with the terms that hold on the day asked for, or else the next ones."""

    enrolment: Enrolment
    agreement: Agreement | None
    payers: str

    @property
    def child(self) -> Child:
        return self.enrolment.child

    @property
    def household(self) -> Household:
        return self.enrolment.child.household


def agreements_of(enrolment: Enrolment) -> list[Agreement]:
    """All terms agreed for a place, latest first, with `payers` and their guardians at hand."""
    return list(
        Agreement.objects.filter(enrolment=enrolment)
        .prefetch_related(Prefetch("payers", Payer.objects.select_related("guardian").order_by("pk")))
        .order_by("-start")
    )


def places(provider: Provider, today: date) -> list[Place]:
    """Places not yet ended, those without terms first. Own children and free places are left out. Three queries."""
    payers = Payer.objects.select_related("guardian").order_by("pk")
    agreements = Agreement.objects.order_by("start").prefetch_related(Prefetch("payers", payers))
    enrolments = (
        Enrolment.objects.filter(ends_after(today), provider=provider, is_free_place=False, child__is_own_child=False)
        .select_related("child__household")
        .prefetch_related(Prefetch("agreements", agreements))
        .order_by("child__household__name", "child__birth_date", "start")
    )
    rows = []
    for enrolment in enrolments:
        current = next(
            (each for each in enrolment.agreements.all() if each.end is None or today < each.end),
            None,
        )
        rows.append(Place(enrolment, current, payers_text(current) if current else ""))
    return sorted(rows, key=lambda place: place.agreement is not None)


def payers_text(agreement: Agreement) -> str:
    """`Ana Brook`, or `Ana Brook 60 %, Ben Brook 40 %`. Needs `payers` at hand."""
    payers = list(agreement.payers.all())
    if len(payers) == 1:
        return str(payers[0])
    return ", ".join(f"{payer} {_percent(payer.share)} %" for payer in payers)


def bill_shares(household: Household, role: str, today: date) -> dict[int, list[str]]:
    """What each guardian pays of the children's tuition today, for those who see money. One query."""
    if role not in BOOKS:
        return {}
    payers = (
        Payer.objects.filter(holds_on(today, of="agreement__"), agreement__enrolment__child__household=household)
        .select_related("agreement__enrolment__child")
        .order_by("agreement__enrolment__child__birth_date", "pk")
    )
    shares: dict[int, list[str]] = {}
    for payer in payers:
        words = {"share": _percent(payer.share), "child": payer.agreement.enrolment.child}
        text = _("pays %(child)s's tuition") if payer.share == 1 else _("pays %(share)s %% of %(child)s's tuition")
        shares.setdefault(payer.guardian_id, []).append(text % words)
    return shares


def _percent(share: Decimal) -> str:
    """A fraction of one as a percent without needless zeros: `60`, `33.33`."""
    return f"{share * 100:f}".rstrip("0").rstrip(".")
