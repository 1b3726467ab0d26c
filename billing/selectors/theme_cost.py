"""What theme runs cost, from receipts, shelves, attendance and working hours, in a constant number of queries."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, cast

from django.utils.translation import gettext_lazy as _

from billing.cost_sheet import LotShare, lot_shares
from billing.models import ReceiptLine, Target
from billing.selectors.home_share import BusinessAmount, amounts_of
from billing.theme_cost import Cost, Kind, RunCost, run_cost
from curriculum.models import Acquisition, How, Keeping, Placement, RunWork, ThemeRun
from curriculum.selectors.stock import stocks_of
from provider.hours import Interval, hours, minutes
from provider.models import Attendance, Enrolment, Provider
from provider.money import ZERO, round_half_up
from provider.periods import DateSpan

KIND_NAMES = {
    Kind.CHARGED: _("Receipts"),
    Kind.ISSUED: _("Used up"),
    Kind.REUSE: _("Reuse charge"),
    Kind.WRITE_OFF: _("Broken or missing"),
    Kind.MADE: _("Home-made"),
}


@dataclass(frozen=True, slots=True)
class LotInRun:
    """A lot that lies out in a run, and what of its cost the run bears."""

    lot: Acquisition
    share: LotShare

    @property
    def is_consumable(self) -> bool:
        return self.lot.material.keeping == Keeping.CONSUMABLE

    @property
    def costs(self) -> Iterable[Cost]:
        """A home-made lot carries the cost of its components, so that what it charges stands under home-made."""
        charge = Kind.MADE if self.lot.how == How.MADE else Kind.ISSUED if self.is_consumable else Kind.REUSE
        for kind, amount in ((charge, self.share.charge), (Kind.WRITE_OFF, self.share.write_off)):
            if amount:
                yield Cost(kind, self.lot.material.name, amount, self)


@dataclass(frozen=True, slots=True)
class ThemeCost:
    """A run's cost with what stands beside it. `hours_value` is at the owner's own rate and in no total.

    `lots` are all that lay out, also those that charge nothing any more; `attended` the days of each child by its id.
    `waiting` counts shared lines left out because the home share of their year is unknown; `provisional` says that a
    line took a home share that may still change.
    """

    run: ThemeRun
    cost: RunCost
    children: int
    days_attended: int
    hours: Decimal
    hours_value: Decimal | None
    waiting: int
    provisional: bool
    lots: tuple[LotInRun, ...]
    attended: Mapping[int, int]

    @property
    def total(self) -> Decimal:
        return self.cost.total

    @property
    def lines(self) -> list[tuple[Any, Cost]]:
        """Each amount with the name of its kind, kind by kind."""
        return [(name, cost) for kind, name in KIND_NAMES.items() for cost in self.cost.costs if cost.kind is kind]

    def of_kind(self, kind: Kind) -> Decimal:
        return self.cost.by_kind[kind]

    @property
    def supplies(self) -> Decimal:
        """What was used up: receipt lines charged straight, and consumables off the shelf."""
        return self.of_kind(Kind.CHARGED) + sum((each.share.charge for each in self.lots if each.is_consumable), ZERO)

    @property
    def as_new(self) -> Decimal:
        """The cost had nothing been reused: every durable piece that lay out got anew for this run."""
        return self.of_kind(Kind.CHARGED) + sum((each.share.as_new for each in self.lots), ZERO)

    @property
    def left_of_budget(self) -> Decimal | None:
        """The run's budget less its cost; None without a budget."""
        return None if self.run.budget is None else self.run.budget - self.total

    @property
    def over_budget(self) -> Decimal:
        left = self.left_of_budget
        return ZERO if left is None else max(-left, ZERO)


def cost_of_run(provider: Provider, run: ThemeRun, today: date) -> ThemeCost:
    return costs_of_runs(provider, [run], today)[0]


def cost_so_far(run: ThemeRun, today: date) -> Decimal:
    """What the run cost by now."""
    return cost_of_run(run.provider, run, today).total


def costs_of_year(provider: Provider, year: int, today: date) -> tuple[ThemeCost, ...]:
    """The runs that start in `year`, in order."""
    runs = ThemeRun.objects.live().filter(provider=provider, start__year=year).select_related("theme").order_by("start")
    return costs_of_runs(provider, runs, today)


def costs_of_runs(provider: Provider, runs: Iterable[ThemeRun], today: date) -> tuple[ThemeCost, ...]:
    """The cost of each run, in the order given. Voided receipts, lots, placements and work count for nothing."""
    runs = list(runs)
    if not runs:
        return ()
    costs: dict[int, list[Cost]] = defaultdict(list)
    lines, parts = _charged_lines(provider, runs, today)
    for line in lines:
        business = parts[line.pk].business
        if business is not None:
            costs[cast(int, line.run_id)].append(Cost(Kind.CHARGED, line.description, business, line))
    lots = _lots(provider, runs)
    for run_id, of_run in lots.items():
        costs[run_id].extend(cost for each in of_run for cost in each.costs)
    enrolled = _enrolled(provider, runs)
    attended = _days_attended(provider, runs)
    worked = _hours(provider, runs)
    rate = provider.hourly_value
    return tuple(
        ThemeCost(
            run,
            run_cost(costs[run.pk], enrolled=enrolled[run.pk], days_attended=attended[run.pk]),
            children=len(enrolled[run.pk]),
            days_attended=sum(attended[run.pk].values()),
            hours=worked[run.pk],
            hours_value=None if rate is None else round_half_up(worked[run.pk] * rate),
            waiting=sum(line.run_id == run.pk and parts[line.pk].business is None for line in lines),
            provisional=any(line.run_id == run.pk and parts[line.pk].provisional for line in lines),
            lots=tuple(lots[run.pk]),
            attended=attended[run.pk],
        )
        for run in runs
    )


def _charged_lines(
    provider: Provider, runs: Sequence[ThemeRun], today: date
) -> tuple[list[ReceiptLine], Mapping[int, BusinessAmount]]:
    """Lines charged straight to the runs. A return is a negative line and takes its part back."""
    lines = list(
        ReceiptLine.objects.filter(provider=provider, target=Target.RUN, run__in=runs, receipt__voided_at__isnull=True)
        .select_related("receipt")
        .order_by("receipt__bill_date", "receipt_id", "position")
    )
    return lines, amounts_of(provider, lines, today)


def _lots(provider: Provider, runs: Sequence[ThemeRun]) -> dict[int, list[LotInRun]]:
    """The lots that lie out in each run by its id, by name. A lot's earlier runs decide what it still bears."""
    in_run: dict[int, list[LotInRun]] = {run.pk: [] for run in runs}
    placed = Placement.objects.filter(provider=provider, run__in=runs, voided_at__isnull=True)
    lots = list(
        Acquisition.objects.filter(pk__in=placed.values("lot"), voided_at__isnull=True)
        .select_related("material")
        .order_by("material__name", "pk")
    )
    stocks = stocks_of(lots)
    for lot in lots:
        for run_id, share in lot_shares(stocks[lot.pk], lot.basis, lot.expected_uses, lot.residual):
            if run_id in in_run:
                in_run[run_id].append(LotInRun(lot, share))
    return in_run


def _enrolled(provider: Provider, runs: Sequence[ThemeRun]) -> dict[int, list[int]]:
    """Children of families enrolled on any day of each run, oldest record first."""
    enrolments = [
        (child, DateSpan(start, end))
        for child, start, end in Enrolment.objects.filter(
            provider=provider, child__is_own_child=False, start__lt=max(run.end for run in runs)
        )
        .order_by("child_id", "start")
        .values_list("child_id", "start", "end")
    ]
    return {run.pk: list(dict.fromkeys(child for child, span in enrolments if span.overlaps(run.span))) for run in runs}


def _days_attended(provider: Provider, runs: Sequence[ThemeRun]) -> dict[int, dict[int, int]]:
    """By run and child. Runs of one theme lie years apart, so that only the days of the runs are read."""
    days = (
        Attendance.objects.filter(
            provider=provider,
            voided_at__isnull=True,
            arrived_at__isnull=False,
            child__is_own_child=False,
            day__in=[day for run in runs for day in run.span.iter_days()],
        )
        .values_list("child_id", "day")
        .order_by("child_id", "day")
        .distinct()
    )
    attended: dict[int, dict[int, int]] = {run.pk: {} for run in runs}
    by_start = sorted(runs, key=lambda run: run.start)  # runs never overlap
    starts = [run.start for run in by_start]
    for child, day in days:
        of_run = attended[by_start[bisect_right(starts, day) - 1].pk]
        of_run[child] = of_run.get(child, 0) + 1
    return attended


def _hours(provider: Provider, runs: Sequence[ThemeRun]) -> dict[int, Decimal]:
    """Hours worked for each run: each person's overlapping entries count once, two people count twice."""
    spent: dict[int, dict[str, list[Interval]]] = {run.pk: defaultdict(list) for run in runs}
    for run_id, person, start, end in RunWork.objects.filter(
        provider=provider, run__in=runs, work__voided_at__isnull=True
    ).values_list("run_id", "work__person", "work__started_at", "work__ended_at"):
        spent[run_id][person].append((start, end))
    return {
        run_id: hours(sum(minutes(intervals) for intervals in by_person.values()))
        for run_id, by_person in spent.items()
    }
