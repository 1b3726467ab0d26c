"""Papers with dates: which edition counts, what lapses, what is missing."""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Generic, TypeVar

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from provider.models import (
    Child,
    Enrolment,
    FamilyPaper,
    FamilyPaperKind,
    HelperPay,
    Household,
    OwnPaper,
    Person,
    Provider,
)
from provider.models.base import ends_after

REMIND_BEFORE = timedelta(days=30)
# What every enrolled child's folder should hold; local rules may ask for more.
REQUIRED = (FamilyPaperKind.AGREEMENT, FamilyPaperKind.EMERGENCY, FamilyPaperKind.IMMUNISATION)

PaperT = TypeVar("PaperT", FamilyPaper, OwnPaper)


@dataclass(frozen=True, slots=True)
class PaperCard(Generic[PaperT]):
    """The latest edition of a paper, and the `earlier` ones it renewed. `state` is current, lapsing or lapsed."""

    paper: PaperT
    state: str
    earlier: tuple[PaperT, ...]


@dataclass(frozen=True, slots=True)
class FamilyFolder:
    """Papers of a family, or of one child together with those that the whole family signed."""

    cards: tuple[PaperCard[FamilyPaper], ...]

    @property
    def missing(self) -> list[Any]:
        """Labels of required kinds of which there is no paper in force."""
        there = {card.paper.kind for card in self.cards if card.state != "lapsed"}
        return [kind.label for kind in REQUIRED if kind not in there]

    @property
    def consents(self) -> list[FamilyPaper]:
        """The answers to emergency care that are in force."""
        kind = FamilyPaperKind.EMERGENCY
        return [card.paper for card in self.cards if card.paper.kind == kind and card.state != "lapsed"]


def paper_state(expires_on: date | None, today: date) -> str:
    """`expires_on` is the first day on which the paper no longer counts."""
    if expires_on is None or expires_on > today + REMIND_BEFORE:
        return "current"
    return "lapsed" if expires_on <= today else "lapsing"


def family_folder(household: Household, today: date, *, child: Child | None = None) -> FamilyFolder:
    """Without `child` the papers of the household and of all its children. One query."""
    rows = FamilyPaper.objects.filter(household=household, voided_at=None).select_related("child")
    if child is not None:
        rows = rows.filter(Q(child=None) | Q(child=child))
    return FamilyFolder(_latest(rows.order_by("kind", "title"), today))


def family_papers_due(provider: Provider, today: date) -> list[PaperCard[FamilyPaper]]:
    """Papers of enrolled children and their families that lapsed or lapse within 30 days, soonest first. One query."""
    places = Enrolment.objects.filter(ends_after(today), provider=provider)
    rows = (
        FamilyPaper.objects.filter(provider=provider, voided_at=None)
        .filter(
            Exists(places.filter(child=OuterRef("child")))
            | Q(child=None) & Exists(places.filter(child__household=OuterRef("household")))
        )
        .select_related("child", "household")
    )
    return _due(_latest(rows, today))


def own_papers_due(provider: Provider, today: date) -> list[PaperCard[OwnPaper]]:
    """Papers of the business and of those who work in it that lapsed or lapse within 30 days. One query."""
    return _due(_latest(_own_papers(provider, today), today))


@dataclass(frozen=True, slots=True)
class PersonCard:
    """A person with papers; without a person those of the business itself."""

    person: Person | None
    cards: tuple[PaperCard[OwnPaper], ...]


def own_papers(provider: Provider, today: date) -> list[PersonCard]:
    """The business first, then everybody who works in it, by name. Two queries."""
    cards = _latest(_own_papers(provider, today).order_by("kind", "title"), today)
    people: list[Person | None] = [None, *working(provider, today)]
    return [PersonCard(person, tuple(card for card in cards if card.paper.person == person)) for person in people]


def working(provider: Provider, today: date) -> QuerySet[Person]:
    """People who work in the business on `today` or will."""
    return Person.objects.filter(ends_after(today), provider=provider).order_by("name")


def left(provider: Provider, today: date) -> QuerySet[Person]:
    """People who no longer work in the business."""
    return Person.objects.filter(provider=provider, end__lte=today).order_by("name")


@dataclass(frozen=True, slots=True)
class PersonYear:
    """What one year holds for a person: training hours, and pay as it was entered. None where nothing was."""

    year: int
    training: Decimal | None
    gross: Decimal | None = None
    withheld: Decimal | None = None
    employer_part: Decimal | None = None

    @property
    def paid_out(self) -> Decimal | None:
        return None if self.gross is None or self.withheld is None else self.gross - self.withheld


@dataclass(frozen=True, slots=True)
class PersonRecord:
    """What is kept of somebody who works in the business."""

    person: Person
    cards: tuple[PaperCard[OwnPaper], ...]
    years: tuple[PersonYear, ...]
    pay: tuple[HelperPay, ...]


def person_record(person: Person, today: date) -> PersonRecord:
    """Papers, paydays and the totals of each year, the latest first. Four queries."""
    papers = OwnPaper.objects.filter(person=person, voided_at=None)
    pay = HelperPay.objects.filter(person=person, voided_at=None)
    training = dict(
        papers.filter(hours__isnull=False).values_list("issued_on__year").annotate(total=Sum("hours")).order_by()
    )
    paid = {
        row["paid_on__year"]: row
        for row in pay.values("paid_on__year")
        .annotate(gross=Sum("gross"), withheld=Sum("withheld"), employer_part=Sum("employer_part"))
        .order_by()
    }
    years = tuple(
        PersonYear(
            year,
            training.get(year),
            **{name: paid[year][name] for name in ("gross", "withheld", "employer_part") if year in paid},
        )
        for year in sorted(training.keys() | paid.keys(), reverse=True)
    )
    return PersonRecord(
        person, _latest(papers.order_by("kind", "title"), today), years, tuple(pay.order_by("-paid_on", "-pk"))
    )


def _own_papers(provider: Provider, today: date) -> QuerySet[OwnPaper]:
    rows = OwnPaper.objects.filter(provider=provider, voided_at=None).select_related("person")
    return rows.filter(Q(person=None) | ends_after(today, of="person__"))


def _whose(paper: FamilyPaper | OwnPaper) -> Hashable:
    """Papers that agree in this renew each other. Training is not renewed: every course counts."""
    if isinstance(paper, FamilyPaper):
        return paper.household_id, paper.child_id, paper.kind, paper.title
    return paper.person_id, paper.kind, paper.title, paper.pk if paper.kind == "training" and paper.hours else None


def _signed(paper: FamilyPaper | OwnPaper) -> tuple[date, int]:
    on = paper.signed_on if isinstance(paper, FamilyPaper) else paper.issued_on
    return on or paper.created_at.date(), paper.pk


def _latest(rows: Iterable[PaperT], today: date) -> tuple[PaperCard[PaperT], ...]:
    editions: dict[Hashable, list[PaperT]] = {}
    for row in rows:
        editions.setdefault(_whose(row), []).append(row)
    for same in editions.values():
        same.sort(key=_signed, reverse=True)
    return tuple(
        PaperCard(same[0], paper_state(same[0].expires_on, today), tuple(same[1:])) for same in editions.values()
    )


def _due(cards: Iterable[PaperCard[PaperT]]) -> list[PaperCard[PaperT]]:
    return sorted(
        (card for card in cards if card.state != "current"), key=lambda card: card.paper.expires_on or date.max
    )
