"""Theme runs: the one of a day, those to choose from, and the playroom as it is set up for one."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Max, Q, QuerySet

from curriculum.models import Acquisition, LearningCentre, Placement, PutAway, RunWork, ThemeRun
from curriculum.selectors.stock import count_of, counts_of, spread_of
from curriculum.selectors.themes import centres_of
from curriculum.stock import NOTHING
from provider.models import Child, Provider
from provider.models.base import meets
from provider.periods import DateSpan

NEARBY = timedelta(days=400)  # a receipt of last year's month may still belong to that run


def run_on(provider: Provider, day: date) -> ThemeRun | None:
    """The run that holds `day`; runs never overlap."""
    runs = ThemeRun.objects.live().filter(provider=provider, start__lte=day, end__gt=day)
    return runs.select_related("theme").first()


def runs_between(provider: Provider, span: DateSpan) -> QuerySet[ThemeRun]:
    """The runs that touch a closed span, in order."""
    runs = ThemeRun.objects.live().filter(provider=provider, start__lt=span.end, end__gt=span.start)
    return runs.select_related("theme").order_by("start")


def run_choices(provider: Provider, around: date) -> QuerySet[ThemeRun]:
    """Runs that a receipt of the day `around` may be for, the latest first."""
    runs = ThemeRun.objects.live().filter(provider=provider, start__lte=around + NEARBY, end__gt=around - NEARBY)
    return runs.select_related("theme").order_by("-start")


def runs_to_prepare(provider: Provider, day: date) -> QuerySet[ThemeRun]:
    """The run of the day and those to come, in order: what work can be for."""
    runs = ThemeRun.objects.live().filter(provider=provider, end__gt=day)
    return runs.select_related("theme").order_by("start")


def lot_choices(provider: Provider) -> QuerySet[Acquisition]:
    """Lots by name of their material, the latest first."""
    lots = Acquisition.objects.filter(provider=provider, voided_at__isnull=True)
    return lots.select_related("material").order_by("material__name", "-on", "pk")


def earlier_run(provider: Provider, run: str, theme: str) -> ThemeRun | None:
    """The run that a plan would begin from: the one of the public id `run`, else the latest of the theme `theme`."""
    runs = ThemeRun.objects.live().filter(provider=provider).select_related("theme").order_by("-start")
    return runs.filter(public_id=run).first() if run else runs.filter(theme__public_id=theme).first()


@dataclass(frozen=True, slots=True)
class Runs:
    """All runs as seen from a day: its own, those to come in order, and those before by year, latest first."""

    current: ThemeRun | None
    coming: tuple[ThemeRun, ...]
    past: tuple[tuple[int, tuple[ThemeRun, ...]], ...]


def runs_around(provider: Provider, today: date) -> Runs:
    runs = list(ThemeRun.objects.live().filter(provider=provider).select_related("theme").order_by("start"))
    past: dict[int, list[ThemeRun]] = defaultdict(list)
    for run in reversed(runs):
        if run.end <= today:
            past[run.start.year].append(run)
    return Runs(
        next((run for run in runs if today in run.span), None),
        tuple(run for run in runs if run.start > today),
        tuple((year, tuple(of_year)) for year, of_year in past.items()),
    )


def next_free_span(provider: Provider, today: date) -> DateSpan:
    """What a new run would probably take: from the end of the last run, or this month, to the end of that month."""
    last = ThemeRun.objects.live().filter(provider=provider).aggregate(end=Max("end"))["end"]
    start = max(last or date.min, today.replace(day=1))
    return DateSpan(start, DateSpan.month(start.year, start.month).end)


@dataclass(frozen=True, slots=True)
class Laid:
    """A placement with its put-away counts. `still_out` in pieces."""

    placement: Placement
    counts: tuple[PutAway, ...]
    still_out: Decimal

    @property
    def gone(self) -> Decimal:
        return sum((count_of(count).gone for count in self.counts), NOTHING)


@dataclass(frozen=True, slots=True)
class CentreView:
    """A centre with what lies in it; `centre` is None for what lies in no centre."""

    centre: LearningCentre | None
    laid: tuple[Laid, ...]

    @property
    def pieces(self) -> Decimal:
        return sum((each.placement.quantity for each in self.laid), NOTHING)


def room_of(run: ThemeRun) -> tuple[CentreView, ...]:
    """The playroom centre by centre in the owner's order, what lies in no centre last. Three queries."""
    centres = centres_of(run)
    placements = list(
        Placement.objects.filter(run=run, voided_at__isnull=True)
        .select_related("lot__material", "centre", "run")
        .order_by("lot__material__name", "pk")
    )
    counts = counts_of(placements)
    laid: dict[int | None, list[Laid]] = defaultdict(list)
    for placement in placements:
        of_it = counts[placement.pk]
        spread = spread_of(placement, of_it)
        laid[placement.centre_id].append(Laid(placement, tuple(of_it), spread.still_out))
    room = [CentreView(centre, tuple(laid[centre.pk])) for centre in centres]
    return (*room, CentreView(None, tuple(laid[None]))) if laid[None] else tuple(room)


def still_to_count(room: tuple[CentreView, ...]) -> list[Laid]:
    """What still lies out, in the order of a walk through the room."""
    return [laid for view in room for laid in view.laid if laid.still_out]


def work_of(run: ThemeRun) -> QuerySet[RunWork]:
    work = RunWork.objects.filter(run=run, work__voided_at__isnull=True)
    return work.select_related("work").order_by("work__started_at")


def lots_to_place(run: ThemeRun, word: str = "") -> QuerySet[Acquisition]:
    """Lots that can lie in a run and do not yet, found by a word in their material's name, place or note."""
    lots = lot_choices(run.provider).filter(on__lt=run.end)
    lots = lots.exclude(placements__in=Placement.objects.filter(run=run, voided_at__isnull=True))
    for part in word.split():
        lots = lots.filter(
            Q(material__name__icontains=part) | Q(material__place__icontains=part) | Q(material__note__icontains=part)
        )
    return lots


def youngest_birth(provider: Provider, span: DateSpan) -> date | None:
    """Birth date of the youngest child who may be present during a closed span: enrolled, or the provider's own."""
    enrolled = meets(span, of="enrolments__")
    children = Child.objects.filter(Q(is_own_child=True) | enrolled, provider=provider, birth_date__lte=span.last_day)
    return children.aggregate(youngest=Max("birth_date"))["youngest"]
