"""A run against its needs: what lies out, what can be laid out, what is short, and how long the room took."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Sum

from curriculum.models import (
    Acquisition,
    BrokenThing,
    Condition,
    LearningCentre,
    Mending,
    PlannedMaterial,
    RunWork,
    ShoppingItem,
    ThemeRun,
)
from curriculum.selectors.runs import CentreView, room_of
from curriculum.selectors.screening import MaterialChecks, Screening, screening_of_run
from curriculum.selectors.stock import stocks_of
from curriculum.stock import NOTHING, Stock
from curriculum.supply import Met, Pieces, Want, meet
from provider.hours import minutes


@dataclass(frozen=True, slots=True)
class Supply:
    """The lots of the materials a run needs, with their stocks, oldest first, by the material's id."""

    lots: dict[int, tuple[Acquisition, ...]]
    stocks: dict[int, Stock]

    def on_hand(self, material: int) -> Decimal:
        return sum((self.stocks[lot.pk].on_hand for lot in self.lots.get(material, ())), NOTHING)

    def broken(self, material: int) -> Decimal:
        """Pieces that broke and are not whole again."""
        stocks = (self.stocks[lot.pk] for lot in self.lots.get(material, ()))
        return sum((count.broken for stock in stocks for spread in stock.spreads for count in spread.counts), NOTHING)

    def runs_it_lies_in(self, material: int, but: int) -> set[int]:
        """Ids of the other runs where pieces of it were not counted back."""
        stocks = (self.stocks[lot.pk] for lot in self.lots.get(material, ()))
        return {spread.run for stock in stocks for spread in stock.spreads if spread.still_out and spread.run != but}


@dataclass(frozen=True, slots=True)
class NeedView:
    """A need with what meets it, and what is to be said of it at once.

    `coming` pieces are ordered and on their way, `elsewhere` are earlier runs that it was not put away from,
    `mending` pieces wait to be repaired.
    """

    need: PlannedMaterial
    met: Met
    coming: Decimal
    elsewhere: tuple[ThemeRun, ...]
    mending: Decimal
    on_hand: Decimal
    broken: Decimal
    checks: MaterialChecks

    @property
    def is_worn(self) -> bool:
        return self.need.material.condition == Condition.MEND

    @property
    def is_not_for_the_youngest(self) -> bool:
        return bool(self.checks.concerns)

    @property
    def is_done(self) -> bool:
        return self.met.placed >= self.need.quantity


@dataclass(frozen=True, slots=True)
class CentreSetUp:
    """A centre to set up. `minutes` of preparation so far, `minutes_before` the last time (None when nobody knows)."""

    view: CentreView
    needs: tuple[NeedView, ...]
    minutes: int
    minutes_before: int | None

    @property
    def centre(self) -> LearningCentre | None:
        return self.view.centre

    @property
    def can_lay_out(self) -> bool:
        return any(need.met.takes for need in self.needs)


@dataclass(frozen=True, slots=True)
class SetUp:
    """The room to set up; `before` is the run it is compared with."""

    centres: tuple[CentreSetUp, ...]
    before: ThemeRun | None
    screening: Screening

    @property
    def short(self) -> list[NeedView]:
        return [need for centre in self.centres for need in centre.needs if need.met.short]


def needs_of(run: ThemeRun) -> list[PlannedMaterial]:
    """The needs of a run in the order of the walk, those of no centre last. One query."""
    needs = PlannedMaterial.objects.filter(run=run, voided_at__isnull=True)
    return list(
        needs.select_related("material__bin", "centre").order_by(
            "centre__position", "centre__name", "material__name", "pk"
        )
    )


def supply_of(materials: Iterable[int], run: ThemeRun) -> Supply:
    """The lots that can lie in `run`. Four queries."""
    lots: dict[int, list[Acquisition]] = defaultdict(list)
    came = Acquisition.objects.filter(material__in=set(materials), voided_at__isnull=True, on__lt=run.end)
    for lot in came.select_related("material").order_by("on", "pk"):
        lots[lot.material_id].append(lot)
    stocks = stocks_of(lot for of_one in lots.values() for lot in of_one)
    return Supply({material: tuple(of_one) for material, of_one in lots.items()}, stocks)


def met_needs(
    needs: Sequence[PlannedMaterial], room: Iterable[CentreView], supply: Supply, run: ThemeRun
) -> dict[int, Met]:
    """How the needs of a run are met, by their id."""
    wants = [Want(need.pk, need.material_id, need.centre_id, need.quantity) for need in needs]
    placements = [laid.placement for view in room for laid in view.laid]
    lying = [Pieces(each.lot.material_id, each.quantity, each.centre_id) for each in placements]
    out = {each.lot_id for each in placements}
    lots = [lot for of_one in supply.lots.values() for lot in of_one if lot.pk not in out]
    return meet(wants, lying, [Pieces(lot.material_id, supply.stocks[lot.pk].free, lot=lot) for lot in lots])


def set_up_of(run: ThemeRun, today: date) -> SetUp:
    """The room of a run against its needs. Twenty-three queries at most, however much it needs."""
    needs, room = needs_of(run), room_of(run)
    materials = {need.material_id for need in needs}
    supply = supply_of(materials, run)
    met = met_needs(needs, room, supply, run)
    screening = screening_of_run(run, today)
    coming = _sums(ShoppingItem.objects.filter(run=run, voided_at=None, ordered_on__isnull=False, bought_on=None))
    mending = _sums(
        BrokenThing.objects.filter(
            put_away__voided_at=None,
            put_away__placement__lot__material__in=materials,
            put_away__placement__lot__voided_at=None,
            plan=Mending.REPAIR,
            done_on=None,
        ),
        "put_away__placement__lot__material",
    )
    lies_in = {material: supply.runs_it_lies_in(material, run.pk) for material in materials}
    others = ThemeRun.objects.filter(pk__in=set().union(*lies_in.values()), start__lt=run.start)
    earlier = list(others.select_related("theme").order_by("start")) if any(lies_in.values()) else []
    before = run_before(run)
    spent = minutes_by_centre([run, before] if before else [run])
    by_centre: dict[int | None, list[NeedView]] = defaultdict(list)
    for need in needs:
        material = need.material_id
        by_centre[need.centre_id].append(
            NeedView(
                need,
                met[need.pk],
                coming.get(material, NOTHING),
                tuple(other for other in earlier if other.pk in lies_in[material]),
                mending.get(material, NOTHING),
                supply.on_hand(material),
                supply.broken(material),
                screening.of(need.material),
            )
        )
    if by_centre[None] and (not room or room[-1].centre is not None):
        room = (*room, CentreView(None, ()))
    return SetUp(
        tuple(
            CentreSetUp(
                view,
                tuple(by_centre[view.centre.pk if view.centre else None]),
                spent.get((run.pk, view.centre.pk if view.centre else None), 0),
                spent.get((before.pk, view.centre.pk if view.centre else None)) if before else None,
            )
            for view in room
        ),
        before,
        screening,
    )


def run_before(run: ThemeRun) -> ThemeRun | None:
    """The run that `run` is compared with: the one it started from, else the last of the same theme. One query."""
    runs = ThemeRun.objects.filter(provider=run.provider, voided_at__isnull=True).select_related("theme")
    if run.started_from_id:
        return runs.filter(pk=run.started_from_id).first()
    return runs.filter(theme=run.theme_id, start__lt=run.start).order_by("-start").first()


def minutes_by_centre(runs: Iterable[ThemeRun]) -> dict[tuple[int, int | None], int]:
    """Minutes worked by run and centre (None: the room as a whole); two people count twice. One query."""
    spent: dict[tuple[int, int | None], dict[str, list[tuple[datetime, datetime]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    rows = RunWork.objects.filter(run__in=list(runs), work__voided_at__isnull=True)
    for run, centre, person, start, end in rows.values_list(
        "run", "centre", "work__person", "work__started_at", "work__ended_at"
    ):
        spent[run, centre][person].append((start, end))
    return {key: sum(minutes(each) for each in people.values()) for key, people in spent.items()}


def _sums(rows: object, material: str = "material") -> dict[int, Decimal]:
    summed = rows.values_list(material).annotate(sum=Sum("quantity"))  # type: ignore[attr-defined]
    return {pk: quantity for pk, quantity in summed if pk is not None}
