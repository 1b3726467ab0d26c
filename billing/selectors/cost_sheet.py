"""The cost sheet of a run, and what the runs to come will probably cost, each in a constant number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q, Sum
from django.utils.translation import gettext as _

from billing.cost_sheet import LotShare, Portion, Reconciliation, earned_within, portions, reconcile, total_share
from billing.models import InvoiceLine, ReceiptLine, ShareRule, TaxBasis, TaxYear
from billing.rulebook import categories
from billing.selectors.home_share import amounts_of
from billing.selectors.theme_cost import ThemeCost, costs_of_runs
from billing.selectors.year import SpentLine, default_basis, not_computed_words, rules_for, tax_group
from billing.theme_cost import RunBeside, compare
from billing.theme_forecast import Month, Planned, by_month, charges_to_come
from curriculum.models import Acquisition, Keeping, Placement, PlannedMaterial, ShoppingItem, ThemeRun
from curriculum.selectors.stock import stocks_of
from curriculum.stock import Stock
from provider.models import Provider
from provider.money import ZERO, round_half_up
from provider.periods import DateSpan

COMING = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class TaxSide:
    """A purchase as the tax rules of its year see it. `place` is its tax line, or why it has none yet.

    `deductible` is the business part where a tax line takes it, 0.00 elsewhere.
    """

    spent: SpentLine
    place: str
    reason: str
    deductible: Decimal

    @property
    def waiting(self) -> Decimal:
        """The business part that no tax line takes yet."""
        return (self.spent.amount.business or ZERO) - self.deductible


@dataclass(frozen=True, slots=True)
class CostSheet:
    """A run's cost with all that stands beside it.

    `earlier` are the runs of the same theme up to this one; `tuition` is what invoice lines earn in the run's days.
    """

    cost: ThemeCost
    earlier: tuple[RunBeside, ...]
    tax: tuple[TaxSide, ...]
    reconciliation: Reconciliation
    tuition: Decimal

    @property
    def run(self) -> ThemeRun:
        return self.cost.run

    @property
    def lots(self) -> LotShare:
        """All lots together."""
        return total_share(each.share for each in self.cost.lots)

    @property
    def saved(self) -> Decimal:
        return self.cost.as_new - self.cost.total

    @property
    def of_tuition(self) -> Decimal | None:
        """The cost as a fraction of the tuition; None when none was earned."""
        return round_half_up(self.cost.total / self.tuition, 4) if self.tuition > 0 else None

    @property
    def by_child(self) -> tuple[Portion, ...]:
        return portions((amount, None) for amount in self.cost.cost.per_child.values())

    @property
    def by_days(self) -> tuple[Portion, ...]:
        days = self.cost.attended
        return portions((amount, days[child]) for child, amount in self.cost.cost.per_attended.items())

    @property
    def purchases(self) -> Decimal:
        """The business part of all purchases: what a tax line takes and what none takes yet."""
        return self.deductible + self.not_computed

    @property
    def deductible(self) -> Decimal:
        return sum((each.deductible for each in self.tax), ZERO)

    @property
    def not_computed(self) -> Decimal:
        return sum((each.waiting for each in self.tax), ZERO)


@dataclass(frozen=True, slots=True)
class PlannedCost:
    """A run to come, what it follows, and the budget set for it."""

    run: ThemeRun
    last: ThemeCost | None

    @property
    def budget(self) -> Decimal | None:
        return self.run.budget


def cost_sheet(provider: Provider, run: ThemeRun, today: date) -> CostSheet:
    """The sheet of one run, its theme loaded. Runs that were taken out of the plan are compared with nothing."""
    earlier = ThemeRun.objects.filter(theme=run.theme_id, start__lt=run.start, voided_at__isnull=True)
    runs = [*earlier.select_related("theme").order_by("start"), run]
    costs = costs_of_runs(provider, runs, today)
    cost = costs[-1]
    spent = _purchases(provider, run, today)
    paid: dict[int, Decimal] = defaultdict(lambda: ZERO)
    straight = ZERO
    for each in spent:
        if each.line.lot_id:
            paid[each.line.lot_id] += each.amount.business or ZERO
        else:
            straight += each.amount.business or ZERO
    lots = [(each.share, paid.get(each.lot.pk)) for each in cost.lots]
    return CostSheet(
        cost,
        compare([(each, each.cost) for each in costs]),
        tuple(_tax_side(provider, each) for each in spent),
        reconcile(straight, lots, cost.total),
        _tuition(provider, run.span),
    )


def _purchases(provider: Provider, run: ThemeRun, today: date) -> list[SpentLine]:
    """Receipt lines for the run and for the lots that lie out in it, by the day on the bill."""
    lying = Placement.objects.filter(run=run, voided_at__isnull=True, lot__voided_at__isnull=True)
    lines = list(
        ReceiptLine.objects.filter(
            Q(run=run) | Q(lot__in=lying.values("lot")), provider=provider, receipt__voided_at__isnull=True
        )
        .select_related("receipt", "run__theme")
        .order_by("receipt__bill_date", "receipt_id", "position")
    )
    years = {line.receipt.bill_date.year for line in lines}
    bases = dict(TaxYear.objects.filter(provider=provider, year__in=years).values_list("year", "basis"))
    names = {code: _(category.name) for code, category in categories().items()}
    amounts = amounts_of(provider, lines, today)
    return [
        SpentLine(line, _counted_on(line, bases, provider), names.get(line.category, line.category), amounts[line.pk])
        for line in lines
    ]


def _counted_on(line: ReceiptLine, bases: dict[int, str], provider: Provider) -> date:
    """The day on which the tax year counts the line, by the basis of the year on the bill."""
    billed = line.receipt.bill_date
    cash = bases.get(billed.year, default_basis(provider)) == TaxBasis.CASH
    return (line.receipt.paid_date or billed) if cash else billed


def _tax_side(provider: Provider, spent: SpentLine) -> TaxSide:
    rules = rules_for(provider, spent.counted_on.year)
    if spent.line.share_rule == ShareRule.PERSONAL:
        return TaxSide(spent, _("Personal"), _("Not a cost of the business."), ZERO)
    if rules is None:
        return TaxSide(spent, _("No tax rules"), _("The year has no rule file: nothing is guessed."), ZERO)
    group = tax_group(spent)
    if group != "expense":
        return TaxSide(spent, *not_computed_words()[group], ZERO)
    line = rules.line_for(spent.line.category)
    return TaxSide(spent, f"{line.form} {line.number}", _(line.name), spent.amount.business or ZERO)


def _tuition(provider: Provider, span: DateSpan) -> Decimal:
    """Invoices and the credit notes that take them back."""
    lines = InvoiceLine.objects.filter(provider=provider, covers_start__lt=span.end, covers_end__gt=span.start)
    spans = lines.values_list("covers_start", "covers_end", "amount")
    return earned_within(span, ((DateSpan(start, end), amount) for start, end, amount in spans))


@dataclass(frozen=True, slots=True)
class Forecast:
    """The runs of the twelve months to come, month by month; `planned.run` is a PlannedCost."""

    months: tuple[Month, ...]

    @property
    def total(self) -> Decimal:
        return sum((month.total for month in self.months), ZERO)

    @property
    def runs(self) -> list[Planned]:
        return [run for month in self.months for run in month.runs]

    @property
    def unknown(self) -> int:
        """Runs of a theme that never ran before."""
        return sum(run.last_supplies is None for run in self.runs)


def forecast(provider: Provider, today: date) -> Forecast:
    """What the planned runs of the next twelve months will probably cost.

    A run follows the one it was started from, or else the latest of its theme. What lay out then lies out again as far
    as it is still there; where the run has needs of its own, its lots are those of the needed materials, oldest first.
    """
    coming = list(
        ThemeRun.objects.filter(provider=provider, start__gt=today, start__lte=today + COMING, voided_at__isnull=True)
        .select_related("theme")
        .order_by("start")
    )
    if not coming:
        return Forecast(())
    last = _last_runs(provider, coming, today)
    costs = {each.run.pk: each for each in costs_of_runs(provider, {*coming, *last.values()}, today)}
    to_buy = _to_buy(coming)
    reuse = _reuse_to_come(coming, {pk: costs[run.pk] for pk, run in last.items()}, costs)
    planned = []
    for run in coming:
        before = costs[last[run.pk].pk] if run.pk in last else None
        planned.append(
            Planned(
                PlannedCost(run, before),
                run.start,
                reuse=reuse[run.pk],
                recorded=costs[run.pk].supplies,
                to_buy=to_buy.get(run.pk, ZERO),
                last_supplies=before.supplies if before else None,
            )
        )
    return Forecast(by_month(planned))


def _last_runs(provider: Provider, coming: Sequence[ThemeRun], today: date) -> dict[int, ThemeRun]:
    """The run that each coming one follows, by its id, of those that have begun."""
    wanted = Q(theme__in={run.theme_id for run in coming}) | Q(pk__in={run.started_from_id for run in coming})
    begun = ThemeRun.objects.filter(wanted, provider=provider, start__lte=today, voided_at__isnull=True)
    by_pk = {run.pk: run for run in begun.select_related("theme").order_by("start")}
    by_theme = {run.theme_id: run for run in by_pk.values()}  # the latest stays
    found = {run.pk: by_pk.get(run.started_from_id or 0) or by_theme.get(run.theme_id) for run in coming}
    return {pk: run for pk, run in found.items() if run is not None}


def _to_buy(coming: Sequence[ThemeRun]) -> dict[int, Decimal]:
    items = ShoppingItem.objects.filter(run__in=coming, bought_on__isnull=True, voided_at__isnull=True)
    sums = items.values("run").annotate(sum=Sum("estimate"))
    return {row["run"]: row["sum"] or ZERO for row in sums}


def _reuse_to_come(
    coming: Sequence[ThemeRun], last: dict[int, ThemeCost], costs: dict[int, ThemeCost]
) -> dict[int, Decimal]:
    """The reuse charges of each coming run. What is needed or lay out last time joins what is already placed."""
    needs: dict[int, dict[int, Decimal]] = defaultdict(dict)
    for need in PlannedMaterial.objects.filter(
        run__in=coming, voided_at__isnull=True, material__keeping=Keeping.DURABLE
    ):
        of_run = needs[need.run_id]
        of_run[need.material_id] = of_run.get(need.material_id, ZERO) + need.quantity
    known = {each.lot.pk for cost in costs.values() for each in cost.lots if not each.is_consumable}
    materials = {material for of_run in needs.values() for material in of_run}
    lots = list(
        Acquisition.objects.filter(Q(pk__in=known) | Q(material__in=materials), voided_at__isnull=True)
        .select_related("material")
        .order_by("on", "pk")
    )
    stocks = stocks_of(lots)
    runs_of: dict[int, list[tuple[int, date]]] = defaultdict(list)
    for run in coming:
        again = [each.lot.pk for each in last[run.pk].lots if not each.is_consumable] if run.pk in last else []
        chosen = _needed(needs[run.pk], lots, stocks) if run.pk in needs else again
        placed = [each.lot.pk for each in costs[run.pk].lots if not each.is_consumable]
        for pk in dict.fromkeys((*placed, *chosen)):
            runs_of[pk].append((run.pk, run.start))
    charges: dict[int, Decimal] = defaultdict(lambda: ZERO)
    for lot in lots:
        to_come = charges_to_come(
            stocks[lot.pk],
            runs_of[lot.pk],
            basis=lot.basis,
            expected_uses=lot.expected_uses,
            residual=lot.residual,
        )
        for run_pk, charge in to_come.items():
            charges[run_pk] += charge
    return charges


def _needed(needs: dict[int, Decimal], lots: Iterable[Acquisition], stocks: dict[int, Stock]) -> list[int]:
    """The lots that meet the needs by material, oldest first, as far as there are any."""
    missing = dict(needs)
    chosen = []
    for lot in lots:
        held = stocks[lot.pk].on_hand
        if missing.get(lot.material_id, ZERO) > 0 and held:
            missing[lot.material_id] -= held
            chosen.append(lot.pk)
    return chosen
