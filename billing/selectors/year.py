"""A calendar year as its preparer needs it: income both ways, expenses by tax line, what is not yet computed."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import F, Prefetch
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from billing.models import (
    Allocation,
    Invoice,
    Payment,
    Receipt,
    ReceiptLine,
    Rounding,
    ShareRule,
    Target,
    TaxBasis,
    TaxYear,
)
from billing.rulebook import Rulebook, RulebookMissing, TaxLine, categories, load_rulebook
from billing.selectors.home_share import BusinessAmount, HomeShareOfYear, business_amounts, shares_for
from billing.selectors.theme_cost import ThemeCost, costs_of_year
from provider.models import Country, PeriodLock, Provider
from provider.money import ZERO
from provider.periods import DateSpan


@dataclass(frozen=True, slots=True)
class YearState:
    """A year of the business on the list of years."""

    year: int
    is_over: bool
    lock: PeriodLock | None
    has_rules: bool


@dataclass(frozen=True, slots=True)
class Earned:
    """An issued invoice, or a credit note with a negative amount; it belongs to the year in which its period starts."""

    number: str
    issued_on: date
    covers: DateSpan
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Received:
    """Money that came in, with the invoices it was put to."""

    on: date
    method: str
    amount: Decimal
    invoices: str


@dataclass(frozen=True, slots=True)
class SpentLine:
    """A receipt line on the day it counts, with its category's name and its two parts."""

    line: ReceiptLine
    counted_on: date
    category: str
    amount: BusinessAmount

    @property
    def receipt(self) -> Receipt:
        return self.line.receipt

    @property
    def theme(self) -> str:
        return self.line.run.theme.name if self.line.run else ""

    @property
    def rule(self) -> str:
        """The share rule in words; for a shared line its basis and the reason."""
        if self.line.share_rule != ShareRule.SHARED:
            return self.line.get_share_rule_display()
        basis = self.line.get_share_basis_display()
        return f"{basis}: {self.line.share_reason}" if self.line.share_reason else basis


@dataclass(frozen=True, slots=True)
class TaxLineTotal:
    """What was spent on one tax line in a year, and the part that may be deducted."""

    line: TaxLine
    spent: tuple[SpentLine, ...]
    deductible: Decimal

    @property
    def is_memory(self) -> bool:
        return self.line.checked == "memory"


@dataclass(frozen=True, slots=True)
class NotComputed:
    """Lines outside the deductible total, and why. `recorded` is their cost as paid, not what may be deducted."""

    name: str
    reason: str
    spent: tuple[SpentLine, ...]
    recorded: Decimal


@dataclass(frozen=True, slots=True)
class ReceiptOfYear:
    """A receipt in the index. `waiting` is the cost of lines whose parts are not known yet."""

    receipt: Receipt
    counted_on: date
    business: Decimal
    personal: Decimal
    waiting: Decimal
    themes: str


@dataclass(frozen=True)
class YearResult:
    """Everything the year-end page and workbook show. `rules` is None when the year has no rule file: then there is no
    tax output, and `tax_lines` and `not_computed` are empty.
    """

    provider: Provider
    year: int
    today: date
    choices: TaxYear
    rules: Rulebook | None
    lock: PeriodLock | None
    home: HomeShareOfYear
    earned: tuple[Earned, ...]
    received: tuple[Received, ...]
    tax_lines: tuple[TaxLineTotal, ...]
    not_computed: tuple[NotComputed, ...]
    receipts: tuple[ReceiptOfYear, ...]
    themes: tuple[ThemeCost, ...]

    @property
    def is_over(self) -> bool:
        return self.today >= date(self.year + 1, 1, 1)

    @property
    def is_cash(self) -> bool:
        return self.choices.basis == TaxBasis.CASH

    @cached_property
    def earned_total(self) -> Decimal:
        return sum((each.amount for each in self.earned), ZERO)

    @cached_property
    def received_total(self) -> Decimal:
        return sum((each.amount for each in self.received), ZERO)

    @property
    def income(self) -> Decimal:
        """Income by the year's tax basis."""
        return self.received_total if self.is_cash else self.earned_total

    @cached_property
    def deductible(self) -> Decimal:
        return sum((each.deductible for each in self.tax_lines), ZERO)

    @cached_property
    def not_computed_total(self) -> Decimal:
        return sum((group.recorded for group in self.not_computed), ZERO)

    @cached_property
    def theme_total(self) -> Decimal:
        return sum((theme.total for theme in self.themes), ZERO)

    @property
    def cautions(self) -> list[str]:
        """What a preparer must know before using a figure, the general one first."""
        found = [
            _("These figures come from your records. A tax preparer decides what may be claimed, and where."),
            _("Earned is what was invoiced for the year; received is what was paid in it. Use one of them, not both."),
            _("Theme costs and reuse charges are management figures. They are not the tax deduction."),
        ]
        if not self.is_over:
            found.append(_("The year is still running: every figure may change."))
        if self.home.is_provisional and self.home.stated:
            found.append(_("The home share is provisional, as stated by the owner."))
        elif self.home.is_provisional:
            found.append(_("The home share is provisional: it comes from the records so far."))
        if self.home.share is None:
            found.append(_("The home share is unknown. %(problem)s") % {"problem": self.home.problem})
        if self.home.hours and self.home.hours.open_stays:
            found.append(
                _("%(count)d stays have no departure and are left out of the hours.")
                % {"count": self.home.hours.open_stays}
            )
        if self.not_computed:
            found.append(_("Costs that are not computed yet stand outside the deductible total."))
        if any(each.is_memory for each in self.tax_lines):
            found.append(_("Tax lines marked “check” could not be read in a public copy. Look at the year's form."))
        if self.rules and self.rules.forms_note:
            found.append(self.rules.forms_note)
        return found


def default_basis(provider: Provider) -> str:
    """The usual tax basis of the country."""
    return TaxBasis.ACCRUAL if provider.country == Country.CANADA else TaxBasis.CASH


def choices_for(provider: Provider, year: int) -> TaxYear:
    """What the owner stated, or the usual choices, unsaved."""
    stated = TaxYear.objects.filter(provider=provider, year=year).first()
    return stated or TaxYear(provider=provider, year=year, basis=default_basis(provider), rounding=Rounding.PUBLISHED)


def rules_for(provider: Provider, year: int) -> Rulebook | None:
    """The tax rules of the place and year; None when no file has them."""
    try:
        return load_rulebook(provider.country, year)
    except RulebookMissing:
        return None


def ran_in(provider: Provider, year: int, today: date) -> bool:
    """Whether the business ran on a day of the year, up to today."""
    return provider.opened_on.year <= year <= min(today, provider.closed_on or today).year


def years_of(provider: Provider, today: date) -> list[YearState]:
    """The years the business ran in, the latest first."""
    last = min(today, provider.closed_on or today).year
    locks = _locks(provider)
    return [
        YearState(year, today.year > year, _lock_of(locks, year), rules_for(provider, year) is not None)
        for year in range(last, provider.opened_on.year - 1, -1)
    ]


def year_result(provider: Provider, year: int, today: date) -> YearResult:
    """The whole year, in a number of queries that does not grow with its records."""
    choices = choices_for(provider, year)
    rules = rules_for(provider, year)
    lines = _lines(provider, year, choices.basis)
    shares = shares_for(provider, {year, *(line.receipt.bill_date.year for line in lines)}, today)
    amounts = business_amounts(lines, shares)
    names = {code: _(category.name) for code, category in categories().items()}
    spent = [
        SpentLine(line, line.counted_on, names.get(line.category, line.category), amounts[line.pk])  # type: ignore[attr-defined]  # annotated
        for line in lines
    ]
    tax_lines, not_computed = _sorted_out(spent, rules) if rules else ((), ())
    return YearResult(
        provider,
        year,
        today,
        choices,
        rules,
        lock_of_year(provider, year),
        shares[year],
        tuple(_earned(provider, year)),
        tuple(_received(provider, year)),
        tax_lines,
        not_computed,
        tuple(_index(spent)),
        costs_of_year(provider, year, today),
    )


def lock_of_year(provider: Provider, year: int) -> PeriodLock | None:
    """The lock that closes the whole year, if any. One query."""
    return _lock_of(_locks(provider), year)


def _locks(provider: Provider) -> list[PeriodLock]:
    return list(PeriodLock.objects.filter(provider=provider, lifted_at__isnull=True).order_by("start"))


def _lock_of(locks: Iterable[PeriodLock], year: int) -> PeriodLock | None:
    """The lock that covers the whole year."""
    span = DateSpan.year(year)
    return next((lock for lock in locks if lock.start <= span.start and span.last_day < lock.end), None)


def _lines(provider: Provider, year: int, basis: str) -> list[ReceiptLine]:
    """Lines of filed receipts that count in the year: by the day paid (or that on the bill when none was given), or by
    the day on the bill.
    """
    billed = F("receipt__bill_date")
    counted_on = Coalesce("receipt__paid_date", "receipt__bill_date") if basis == TaxBasis.CASH else billed
    span = DateSpan.year(year)
    return list(
        ReceiptLine.objects.filter(provider=provider, receipt__voided_at__isnull=True)
        .annotate(counted_on=counted_on)
        .filter(counted_on__gte=span.start, counted_on__lt=span.end)
        .select_related("receipt", "run__theme")
        .order_by("counted_on", "receipt_id", "position")
    )


def _earned(provider: Provider, year: int) -> Iterable[Earned]:
    invoices = Invoice.objects.filter(provider=provider, covers_start__year=year)
    for invoice in invoices.order_by("issued_on", "series", "number"):
        covers = DateSpan(invoice.covers_start, invoice.covers_end)
        yield Earned(invoice.label, invoice.issued_on, covers, invoice.total)


def _received(provider: Provider, year: int) -> Iterable[Received]:
    allocations = Prefetch("allocations", Allocation.objects.select_related("invoice").order_by("invoice__issued_on"))
    payments = Payment.objects.filter(provider=provider, on__year=year, voided_at__isnull=True)
    for payment in payments.prefetch_related(allocations).order_by("on", "pk"):
        invoices = ", ".join(each.invoice.label for each in payment.allocations.all())
        yield Received(payment.on, payment.get_method_display(), payment.amount, invoices)


def tax_group(spent: SpentLine) -> str:
    """Where a line goes: `expense`, or the code of the group that is not computed yet."""
    if spent.line.target == Target.ASSET:
        return "asset"
    if spent.line.target == Target.HOUSEHOLD:
        return "household"
    category = categories().get(spent.line.category)
    if category is None:
        return "unsorted"
    if category.treatment == "expense" and spent.amount.business is None:
        return "waiting"
    return category.treatment


def _sorted_out(
    spent: Sequence[SpentLine], rules: Rulebook
) -> tuple[tuple[TaxLineTotal, ...], tuple[NotComputed, ...]]:
    """Business lines under their tax line, in the order of the form, and the groups that are not computed yet."""
    by_line: dict[str, list[SpentLine]] = defaultdict(list)
    groups: dict[str, list[SpentLine]] = defaultdict(list)
    for each in spent:
        if each.line.share_rule == ShareRule.PERSONAL:
            continue
        group = tax_group(each)
        if group == "expense":
            by_line[rules.line_for(each.line.category).code].append(each)
        else:
            groups[group].append(each)
    totals = tuple(
        TaxLineTotal(line, tuple(found), sum((each.amount.business or ZERO for each in found), ZERO))
        for line in rules.lines
        if (found := by_line.get(line.code))
    )
    return totals, tuple(
        NotComputed(name, reason, tuple(found), sum((each.line.cost for each in found), ZERO))
        for code, (name, reason) in not_computed_words().items()
        if (found := groups.get(code))
    )


def not_computed_words() -> Mapping[str, tuple[str, str]]:
    """The name of each kind of line outside the deductible total, and what it waits for."""
    return {
        "food": (_("Food"), _("Needs the meals served and any food program money.")),
        "vehicle": (_("Vehicle"), _("Needs the trips and the yearly distance.")),
        "household": (_("Household bills"), _("Need the home share of the whole year and the limit on home costs.")),
        "asset": (_("Equipment"), _("Current cost or depreciation: to be asked for each thing, never by price alone.")),
        "waiting": (_("Waiting for the home share"), _("The home share of the year is unknown.")),
        "unsorted": (_("Without a known category"), _("The category is not on the list of this country.")),
    }


def _index(spent: Iterable[SpentLine]) -> Iterable[ReceiptOfYear]:
    by_receipt: dict[Any, list[SpentLine]] = defaultdict(list)
    for each in spent:
        by_receipt[each.line.receipt_id].append(each)
    for lines in by_receipt.values():
        yield ReceiptOfYear(
            lines[0].receipt,
            lines[0].counted_on,
            sum((each.amount.business or ZERO for each in lines), ZERO),
            sum((each.amount.personal or ZERO for each in lines), ZERO),
            sum((each.line.cost for each in lines if each.amount.business is None), ZERO),
            ", ".join(dict.fromkeys(each.theme for each in lines if each.theme)),
        )
