"""What to check about materials for the children who are expected, in a constant number of queries."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Sum

from curriculum.models import Acquisition, How, Material, PutAway, RecallCheck, RecallResult, SafetyFacts, ThemeRun
from curriculum.screening import Facts, Finding, Presence, Window, screen, windows_without, youngest_birth
from curriculum.selectors.stock import stocks_of
from provider.capacity import age_in_months
from provider.models import Child, OpeningHours, PatternDay, Provider
from provider.models.base import meets
from provider.periods import DateSpan

USED = (How.SECOND_HAND, How.GIVEN)  # somebody else had it, so that a recall may have passed it by
ANSWERS = {RecallResult.RECALLED: "recalled", RecallResult.UNSURE: "unsure"}


@dataclass(frozen=True, slots=True)
class Concern:
    """A finding for a child who is expected. `windows` are the hours in which no child it concerns is."""

    finding: Finding
    windows: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True)
class MaterialChecks:
    """What to check about one material; `unknown` is what nobody looked at yet and may matter."""

    concerns: tuple[Concern, ...] = ()
    unknown: tuple[Finding, ...] = ()

    @property
    def groups(self) -> list[tuple[int | None, tuple[Window, ...], list[Finding]]]:
        """The concerns by the age they have in common, those for every age first: (age, windows, findings)."""
        ages = sorted({concern.finding.under_months for concern in self.concerns}, key=lambda age: age or 0)
        of = {age: [each for each in self.concerns if each.finding.under_months == age] for age in ages}
        return [(age, found[0].windows, [each.finding for each in found]) for age, found in of.items()]

    @property
    def is_never(self) -> bool:
        """Whether something says that it is not for play at any age."""
        return any(concern.finding.check.never for concern in self.concerns)


@dataclass(frozen=True, slots=True)
class Screening:
    """Materials against the youngest child expected in a span. `age` in months at its start, None with nobody."""

    age: int | None
    by_material: dict[int, MaterialChecks]

    def of(self, material: Material) -> MaterialChecks:
        return self.by_material[material.pk]


def screening_of(provider: Provider, materials: Iterable[Material], span: DateSpan, today: date) -> Screening:
    """Screen materials for a closed span, whose first day settles the ages. Nine queries, however many there are."""
    presences = presences_in(provider, span)
    birth = youngest_birth(presences)
    age = None if birth is None else age_in_months(birth, span.start)
    facts = facts_of(materials, today)
    free: dict[int, tuple[Window, ...]] = {}

    def concern(finding: Finding) -> Concern:
        if finding.under_months is None:
            return Concern(finding)
        if finding.under_months not in free:
            free[finding.under_months] = windows_without(presences, finding.under_months, span.start)
        return Concern(finding, free[finding.under_months])

    by_material = {}
    for pk, known in facts.items():
        findings = [each for each in screen(known, provider.country) if each.concerns(age)]
        by_material[pk] = MaterialChecks(
            tuple(concern(each) for each in findings if not each.is_unknown),
            tuple(each for each in findings if each.is_unknown),
        )
    return Screening(age, by_material)


def screening_of_run(run: ThemeRun, today: date) -> Screening:
    """Screen all that lies out in a run or is planned for it. Ten queries."""
    placed = Q(lots__placements__run=run, lots__placements__voided_at__isnull=True)
    needed = Q(needs__run=run, needs__voided_at__isnull=True)
    materials = Material.objects.filter(placed | needed, provider=run.provider).distinct()
    return screening_of(run.provider, materials, run.span, today)


def screening_of_week(provider: Provider, materials: Iterable[Material], today: date) -> Screening:
    """Screen materials for the seven days from today."""
    return screening_of(provider, materials, DateSpan(today, today + timedelta(days=7)), today)


def presences_in(provider: Provider, span: DateSpan) -> tuple[Presence, ...]:
    """Whoever is expected on which weekdays of a closed span, in every or every other week. Three queries.

    The provider's own children live there: they are present whenever it is open.
    """
    pattern = PatternDay.objects.filter(
        meets(span), meets(span, of="enrolment__"), provider=provider, enrolment__child__is_own_child=False
    )
    weekdays = {day.weekday() for day in (span.start + timedelta(days=n) for n in range(min(span.days, 7)))}
    expected = [
        Presence(each.enrolment.child.birth_date, each.weekday, each.arrives, each.leaves)
        for each in pattern.select_related("enrolment__child")
    ]
    own = Child.objects.filter(provider=provider, is_own_child=True, birth_date__lt=span.end)
    births = list(own.values_list("birth_date", flat=True))
    opening = OpeningHours.objects.filter(meets(span), provider=provider)
    expected += [Presence(birth, each.weekday, each.opens, each.closes) for each in opening for birth in births]
    return tuple(each for each in expected if each.weekday in weekdays)


def facts_of(materials: Iterable[Material], today: date) -> dict[int, Facts]:
    """What is known of each material, by its id. Six queries, one more when the materials are not read yet."""
    materials = list(materials)
    noted = {row.material_id: row for row in SafetyFacts.objects.filter(material__in=materials)}
    recalls = _recalls(materials, today)
    return {each.pk: _facts(each, noted.get(each.pk), recalls[each.pk]) for each in materials}


def _facts(material: Material, noted: SafetyFacts | None, recalls: Collection[str]) -> Facts:
    seen: dict[str, Any] = {}
    if noted is not None:
        seen = {
            "smallest": (noted.smallest_a, noted.smallest_b, noted.smallest_c),
            "ball": noted.ball_diameter,
            "cord": noted.cord_length,
            "loop": noted.loop_length,
            "filler": noted.filler,
        }
        seen |= {name: getattr(noted, name) for name in ("magnet", "button_cell", "latex", "plastic_bag", "old_paint")}
    return Facts(age_mark=material.age_mark_months, recalls=frozenset(recalls), **seen)


def _recalls(materials: list[Material], today: date) -> dict[int, set[str]]:
    lots = list(Acquisition.objects.filter(material__in=materials, voided_at__isnull=True).select_related("material"))
    stocks = stocks_of(lots)
    latest = _latest_checks(RecallCheck.objects.filter(lot__in=lots))
    words: dict[int, set[str]] = defaultdict(set)
    for lot in lots:
        if stocks[lot.pk].on_hand:
            words[lot.material_id] |= _recall_words(lot, latest.get(lot.pk), today)
    return words


def _recall_words(lot: Acquisition, check: RecallCheck | None, today: date) -> set[str]:
    if check is None:
        return {"missing"} if lot.how in USED else set()
    answer = ANSWERS.get(RecallResult(check.result))
    is_due = check.again_on is not None and check.again_on <= today
    return {word for word in (answer, "due" if is_due else None) if word}


def _latest_checks(checks: QuerySet[RecallCheck]) -> dict[int, RecallCheck]:
    return {check.lot_id: check for check in checks.order_by("on", "pk")}


def recalls_to_repeat(provider: Provider, today: date) -> list[tuple[Acquisition, RecallCheck]]:
    """Lots with pieces on hand whose last look-up is to be repeated by now, the longest overdue first.

    Five queries.
    """
    last = RecallCheck.objects.filter(lot=OuterRef("pk")).order_by("-on", "-pk").values("again_on")[:1]
    lots = list(
        Acquisition.objects.filter(provider=provider, voided_at__isnull=True)
        .annotate(again_on=Subquery(last))
        .filter(again_on__lte=today)
        .select_related("material")
        .order_by("again_on", "pk")
    )
    latest = _latest_checks(RecallCheck.objects.filter(lot__in=lots))
    stocks = stocks_of(lots)
    return [(lot, latest[lot.pk]) for lot in lots if stocks[lot.pk].on_hand]


def lots_without_look_up(provider: Provider) -> QuerySet[Acquisition]:
    """Second-hand and given lots with pieces on hand that nobody looked up, by material."""
    counts = PutAway.objects.filter(placement__lot=OuterRef("pk"), voided_at__isnull=True, placement__voided_at=None)
    gone = counts.values("placement__lot").annotate(gone=Sum(F("broken") + F("missing") + F("used_up"))).values("gone")
    lots = Acquisition.objects.filter(provider=provider, voided_at__isnull=True, how__in=USED, recall_checks=None)
    left = lots.annotate(gone=Subquery(gone)).filter(Q(gone=None) | Q(gone__lt=F("quantity")))
    return left.select_related("material").order_by("material__name", "pk")


def checks_of_lots(lots: Iterable[Acquisition]) -> dict[int, list[RecallCheck]]:
    """The look-ups of each lot, by its id, the latest first. One query."""
    checks: dict[int, list[RecallCheck]] = defaultdict(list)
    for check in RecallCheck.objects.filter(lot__in=list(lots)).order_by("-on", "-pk"):
        checks[check.lot_id].append(check)
    return checks
