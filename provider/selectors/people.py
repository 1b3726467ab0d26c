"""What is kept beside a child: whom to call, who may collect, what to watch for, and its papers."""

from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from django.db.models import F, QuerySet

from provider.models import CareNeed, Child, Collector, EmergencyContact, Provider
from provider.models.base import holds_on
from provider.selectors.families import ChildPage, HouseholdPage, household_page
from provider.selectors.needs import needs_on
from provider.selectors.papers import FamilyFolder, family_folder

SpanRow = TypeVar("SpanRow", Collector, CareNeed)


@dataclass(frozen=True, slots=True)
class ChildRecord:
    """Everything on a child's page. `collectors` and `needs` hold those that count today or later, then past ones."""

    page: ChildPage
    family: HouseholdPage
    contacts: tuple[EmergencyContact, ...]
    collectors: tuple[Collector, ...]
    past_collectors: tuple[Collector, ...]
    needs: tuple[CareNeed, ...]
    past_needs: tuple[CareNeed, ...]
    folder: FamilyFolder

    @property
    def child(self) -> Child:
        return self.page.child

    @property
    def missing(self) -> list[Any]:
        """Labels of papers that an enrolled child's folder lacks; of one's own child nobody asks for any."""
        enrolled = any(place.state != "over" for place in self.page.places)
        return self.folder.missing if enrolled and not self.child.is_own_child else []


def child_record(child: Child, today: date) -> ChildRecord:
    """The page of one child, which has its household at hand. Eight queries."""
    family = household_page(child.household, today)
    collectors, past_collectors = _by_end(Collector.objects.filter(child=child, voided_at=None), today)
    needs, past_needs = _by_end(CareNeed.objects.filter(child=child, voided_at=None), today)
    return ChildRecord(
        next(each for each in family.children if each.child == child),
        family,
        tuple(contacts_of(child)),
        collectors,
        past_collectors,
        needs,
        past_needs,
        family_folder(child.household, today, child=child),
    )


def contacts_of(child: Child) -> QuerySet[EmergencyContact]:
    """Whom to call for a child, in the order to call them."""
    return EmergencyContact.objects.filter(child=child, voided_at=None).order_by("position", "pk")


@dataclass(frozen=True, slots=True)
class PostedChild:
    """A child on the list that hangs in the kitchen."""

    child: Child
    needs: tuple[CareNeed, ...]


def posted_list(provider: Provider, day: date) -> list[PostedChild]:
    """Enrolled children by name, each with the care needs that hang in the kitchen. One query."""
    rows = needs_on(provider, day).filter(holds_on(day, of="child__enrolments__"), posted=True)
    needs: dict[Child, list[CareNeed]] = {}
    for need in rows.select_related("child").distinct():
        needs.setdefault(need.child, []).append(need)
    return [PostedChild(child, tuple(needs[child])) for child in sorted(needs, key=lambda each: str(each).casefold())]


def _by_end(rows: QuerySet[SpanRow], today: date) -> tuple[tuple[SpanRow, ...], tuple[SpanRow, ...]]:
    found = list(rows.order_by(F("end").desc(nulls_first=True), "start", "pk"))
    return (
        tuple(row for row in found if row.end is None or row.end > today),
        tuple(row for row in found if row.end is not None and row.end <= today),
    )
