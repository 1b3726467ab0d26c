"""Households with their people, and who has a place when."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from provider.models import CareNeed, Child, Enrolment, Guardian, Household, PatternDay, Provider
from provider.models.base import ends_after, holds_on
from provider.selectors.needs import children_with_allergies, needs_on


@dataclass(frozen=True, slots=True)
class ChildCard:
    """A child as a list shows it; `enrolment` is the one in force or coming, None for a child without a place."""

    child: Child
    age: tuple[int, int]
    enrolment: Enrolment | None
    is_allergic: bool


@dataclass(frozen=True, slots=True)
class HouseholdCard:
    """A family in the list of families."""

    household: Household
    children: tuple[ChildCard, ...]

    @property
    def is_current(self) -> bool:
        return not self.children or any(each.enrolment for each in self.children)


def age_on(birth_date: date, day: date) -> tuple[int, int]:
    """Whole years and months; (0, 0) before the birth."""
    months = (day.year - birth_date.year) * 12 + day.month - birth_date.month - (day.day < birth_date.day)
    return divmod(max(months, 0), 12)


def household_cards(provider: Provider, today: date, *, search: str = "", past: bool = False) -> list[HouseholdCard]:
    """Households by name: those with a place now or later and those still without any child, or the `past` ones.

    `search` looks in the names of households, children and guardians. Four queries.
    """
    households = Household.objects.filter(provider=provider)
    if search:
        households = households.filter(
            Q(name__icontains=search)
            | Q(children__name__icontains=search)
            | Q(children__preferred_name__icontains=search)
            | Q(guardians__name__icontains=search)
        ).distinct()
    households = households.order_by("name")
    current = Enrolment.objects.filter(ends_after(today), provider=provider)
    # The earliest wins: the place in force, else the next one.
    places = {each.child_id: each for each in current.order_by("-start")}
    allergic = children_with_allergies(provider, today)
    children: dict[int, list[ChildCard]] = defaultdict(list)
    for child in Child.objects.filter(household__in=households.order_by()).order_by("birth_date", "pk"):
        children[child.household_id].append(
            ChildCard(child, age_on(child.birth_date, today), places.get(child.pk), child.pk in allergic)
        )
    cards = [HouseholdCard(each, tuple(children[each.pk])) for each in households]
    return [card for card in cards if card.is_current != past]


@dataclass(frozen=True, slots=True)
class Place:
    """An enrolment with the pattern in force today, or the first one of a place that has not begun."""

    enrolment: Enrolment
    state: str  # now, later, over
    pattern: tuple[PatternDay, ...]
    changes_on: date | None


@dataclass(frozen=True, slots=True)
class ChildPage:
    """What the page of a family says of one of its children."""

    child: Child
    age: tuple[int, int]
    places: tuple[Place, ...]
    needs: tuple[CareNeed, ...]

    @property
    def has_open_place(self) -> bool:
        """A place without an end leaves no room for another."""
        return any(place.enrolment.end is None for place in self.places)


@dataclass(frozen=True, slots=True)
class HouseholdPage:
    household: Household
    guardians: tuple[Guardian, ...]
    children: tuple[ChildPage, ...]


def household_page(household: Household, today: date) -> HouseholdPage:
    """Everybody of a household and their places, newest first. Five queries."""
    patterns: dict[int, list[PatternDay]] = defaultdict(list)
    for slot in PatternDay.objects.filter(enrolment__child__household=household).order_by("weekday", "arrives"):
        patterns[slot.enrolment_id].append(slot)
    places: dict[int, list[Place]] = defaultdict(list)
    for enrolment in Enrolment.objects.filter(child__household=household).order_by("-start"):
        places[enrolment.child_id].append(_place(enrolment, patterns[enrolment.pk], today))
    needs: dict[int, list[CareNeed]] = defaultdict(list)
    for need in needs_on(household.provider, today).filter(child__household=household):
        needs[need.child_id].append(need)
    return HouseholdPage(
        household,
        tuple(Guardian.objects.filter(household=household).order_by("pk")),
        tuple(
            ChildPage(child, age_on(child.birth_date, today), tuple(places[child.pk]), tuple(needs[child.pk]))
            for child in Child.objects.filter(household=household).order_by("birth_date", "pk")
        ),
    )


def pattern_on(enrolment: Enrolment, day: date) -> list[PatternDay]:
    """The weekly pattern in force on `day`. One query."""
    return list(PatternDay.objects.filter(holds_on(day), enrolment=enrolment).order_by("weekday", "arrives"))


def _place(enrolment: Enrolment, pattern: list[PatternDay], today: date) -> Place:
    over = enrolment.end is not None and enrolment.end <= today
    day = max(today, enrolment.start)
    if over:
        day = max((slot.start for slot in pattern), default=enrolment.start)
    in_force = tuple(slot for slot in pattern if slot.start <= day and (slot.end is None or day < slot.end))
    state = "over" if over else "later" if enrolment.start > today else "now"
    return Place(enrolment, state, in_force, min((slot.start for slot in pattern if slot.start > day), default=None))
