"""The sheets of the year-end workbook.

Line amounts and shares are values from the calculators; totals are live formulas that carry their known results.
Children and families are not named: invoice numbers and dates are enough for a preparer.
"""

from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from billing.models import ReceiptLine
from billing.rulebook import Rulebook, TaxLine
from billing.selectors.home_share import HomeShareOfYear
from billing.selectors.theme_cost import KIND_NAMES, LotInRun
from billing.selectors.year import YearResult
from billing.workbook.paper import Book, Column, Figure, Formula, Paper, Table
from billing.workbook.paper import Kind as PaperKind
from provider.errors import DomainError
from provider.models import Provider
from provider.steps import figure, percent

MONEY_WIDTH, DATE_WIDTH = 14, 12


class NoTaxRules(DomainError):
    """The country and year have no rule file: nothing of the tax output may be guessed."""

    def __init__(self, provider: Provider, year: int) -> None:
        super().__init__(
            _("There are no tax rules for %(country)s and %(year)s, so there is no workbook. Everything is recorded.")
            % {"country": provider.get_country_display(), "year": year}
        )


def build_workbook(result: YearResult) -> bytes:
    """Return the year as an .xlsx file; the same result gives the same bytes. Raises NoTaxRules.

    Queries nothing and needs no transaction.
    """
    if result.rules is None:
        raise NoTaxRules(result.provider, result.year)
    title = _("%(year)s for the tax preparer") % {"year": result.year}
    return _YearBook(result, Book(title=title, author=result.provider.name, made_on=result.today)).save(result.rules)


class _YearBook:
    def __init__(self, result: YearResult, book: Book) -> None:
        self.result = result
        self.book = book
        self.remarks = [
            _("%(name)s, calendar year %(year)s, amounts in %(currency)s, made on %(day)s")
            % {
                "name": result.provider.name,
                "year": result.year,
                "currency": result.provider.currency,
                "day": date_format(result.today),
            }
        ]
        if result.provider.is_example:
            self.remarks.append(_("Invented business, for looking round: no person, place or price in it is real."))

    def save(self, rules: Rulebook) -> bytes:
        summary = self._sheet(_("Summary"), _("Summary of %(year)s") % {"year": self.result.year})
        earned, received = self._earned(), self._received()
        expenses = self._expenses()
        lines_sheet = self._sheet(_("Tax lines"), _("Deductible expenses by tax line"))
        lines = self._tax_lines(lines_sheet, expenses)
        not_computed = self._not_computed()
        themes = self._themes()
        self._theme_sheets()
        receipts = self._receipts()
        self._home()
        self._notes(rules)
        self._summary(summary, earned, received, lines, not_computed, themes, receipts)
        return self.book.save()

    def _sheet(self, title: str, heading: str) -> Paper:
        paper = self.book.sheet(title, heading, self.remarks)
        paper.skip()
        return paper

    def _summary(
        self,
        paper: Paper,
        earned: Table,
        received: Table,
        lines: Table,
        not_computed: Table,
        themes: Table,
        receipts: Table,
    ) -> None:
        result, amount = self.result, _("Amount")
        counts = _("This is the income by the basis chosen for the year.")
        share = result.home.share
        rows = [
            (_("Income earned (invoiced)"), earned.total_of(amount), "" if result.is_cash else counts),
            (_("Income received (paid)"), received.total_of(amount), counts if result.is_cash else ""),
            (
                _("Deductible expenses, computed so far"),
                lines.total_of(_("Deductible")),
                _("By tax line on its sheet."),
            ),
            (
                _("Not yet computed, as recorded"),
                not_computed.total_of(_("Cost recorded")),
                _("Outside the deductible expenses: food, vehicle, household bills, equipment."),
            ),
            (_("Receipts filed"), receipts.total_of(_("Total")), _("Business and personal, as paid.")),
            (
                _("Theme costs"),
                themes.total_of(_("Total")),
                _("A management figure with reuse charges. Not the tax deduction."),
            ),
        ]
        paper.table(
            [Column(_("Figure"), 40), Column(amount, 16, "money"), Column(_("What it is"), 76)], rows, main=True
        )
        paper.sheet.auto_filter.ref = None
        paper.skip()
        state = _("running: every figure may change")
        if result.lock:
            state = _("closed: %(reason)s") % {"reason": result.lock.reason}
        elif result.is_over:
            state = _("over, not yet closed")
        home = _("unknown") if share is None else f"{percent(share)} ({home_words(result.home)})"
        for text in (
            _("State of the year: %(state)s.") % {"state": state},
            _("Tax basis: %(basis)s.") % {"basis": result.choices.get_basis_display()},
            _("Business share of the home: %(share)s.") % {"share": home},
        ):
            paper.line(text, across=3)
        paper.skip()
        paper.line(_("Cautions"), style="Section")
        for caution in result.cautions:
            paper.line(f"• {caution}", across=3)

    def _earned(self) -> Table:
        paper = self._sheet(_("Income earned"), _("Income earned: invoices for periods that start in the year"))
        return paper.table(
            [
                Column(_("Invoice"), 16),
                Column(_("Issued"), DATE_WIDTH, "date"),
                Column(_("Period from"), DATE_WIDTH, "date"),
                Column(_("Period to"), DATE_WIDTH, "date"),
                Column(_("Amount"), MONEY_WIDTH, "money", total=True),
            ],
            [
                (each.number, each.issued_on, each.covers.start, each.covers.last_day, each.amount)
                for each in self.result.earned
            ],
            main=True,
            total_label=_("Earned"),
        )

    def _received(self) -> Table:
        paper = self._sheet(_("Income received"), _("Income received: payments in the year"))
        return paper.table(
            [
                Column(_("Received"), DATE_WIDTH, "date"),
                Column(_("How"), 16),
                Column(_("For invoices"), 34),
                Column(_("Amount"), MONEY_WIDTH, "money", total=True),
            ],
            [(each.on, each.method, each.invoices, each.amount) for each in self.result.received],
            main=True,
            total_label=_("Received"),
        )

    def _expenses(self) -> Table:
        paper = self._sheet(_("Expenses"), _("Expense lines in the order of the tax form"))
        columns = [
            Column(_("Tax line"), 17),
            Column(_("Date"), DATE_WIDTH, "date"),
            Column(_("Shop"), 20),
            Column(_("What"), 27),
            Column(_("Category"), 19),
            Column(_("Theme"), 19),
            Column(_("Share rule"), 28),
            Column(_("Cost"), 11, "money", total=True),
            Column(_("Share"), 10, "share"),
            Column(_("Deductible"), 12, "money", total=True),
            Column(_("Personal"), 11, "money", total=True),
        ]
        rows = [
            (
                _number(total.line),
                each.counted_on,
                each.receipt.shop,
                each.line.description,
                each.category,
                each.theme,
                each.rule,
                each.line.cost,
                each.amount.share,
                each.amount.business,
                each.amount.personal,
            )
            for total in self.result.tax_lines
            for each in total.spent
        ]
        return paper.table(columns, rows, main=True, total_label=_("All lines"))

    def _tax_lines(self, paper: Paper, expenses: Table) -> Table:
        keys, amounts = expenses.range_of(_("Tax line")), expenses.range_of(_("Deductible"))
        first = paper.row + 1
        rows = [
            (
                _number(total.line),
                _(total.line.name),
                len(total.spent),
                Formula(f"=ROUND(SUMIF({keys},A{row},{amounts}),2)", total.deductible),
                _checked(total.line.checked),
                total.line.source,
            )
            for row, total in enumerate(self.result.tax_lines, first)
        ]
        return paper.table(
            [
                Column(_("Tax line"), 17),
                Column(_("Name"), 40),
                Column(_("Lines"), 8, "count"),
                Column(_("Deductible"), MONEY_WIDTH, "money", total=True),
                Column(_("Checked"), 20),
                Column(_("Source of the line"), 60),
            ],
            rows,
            main=True,
            total_label=_("Deductible so far"),
        )

    def _not_computed(self) -> Table:
        paper = self._sheet(_("Not yet computed"), _("Not yet computed: outside the deductible total"))
        columns = [
            Column(_("Group"), 22),
            Column(_("Date"), DATE_WIDTH, "date"),
            Column(_("Shop"), 24),
            Column(_("What"), 30),
            Column(_("Category"), 22),
            Column(_("Share rule"), 28),
            Column(_("Cost recorded"), MONEY_WIDTH, "money", total=True),
            Column(_("What is missing"), 56),
        ]
        rows = [
            (
                group.name,
                each.counted_on,
                each.receipt.shop,
                each.line.description,
                each.category,
                each.rule,
                each.line.cost,
                group.reason,
            )
            for group in self.result.not_computed
            for each in group.spent
        ]
        return paper.table(columns, rows, main=True, total_label=_("As recorded"))

    def _themes(self) -> Table:
        paper = self._sheet(_("Theme costs"), _("Theme costs: management figures, not the tax deduction"))
        columns = [
            Column(_("Theme"), 26),
            Column(_("From"), DATE_WIDTH, "date"),
            Column(_("To"), DATE_WIDTH, "date"),
            *(Column(str(name), 12, "money", total=True) for name in KIND_NAMES.values()),
            Column(_("Total"), MONEY_WIDTH, "money", total=True),
            Column(_("Children"), 10, "count"),
            Column(_("Per child"), 12, "money"),
            Column(_("Days attended"), 10, "count"),
            Column(_("Per day"), 12, "money"),
            Column(_("Hours beside it"), 10, "hours"),
        ]
        first = paper.row + 1
        rows = [
            (
                theme.run.theme.name,
                theme.run.start,
                theme.run.span.last_day,
                *(theme.of_kind(kind) for kind in KIND_NAMES),
                Formula(f"=ROUND(SUM(D{row}:H{row}),2)", theme.total),
                theme.children,
                theme.cost.average_per_child,
                theme.days_attended,
                theme.cost.average_per_day,
                theme.hours,
            )
            for row, theme in enumerate(self.result.themes, first)
        ]
        return paper.table(columns, rows, main=True, total_label=_("All themes"))

    def _theme_sheets(self) -> Table:
        paper = self._sheet(
            _("Theme cost sheets"), _("Theme cost sheets: each run line by line, not the tax deduction")
        )
        columns = [
            Column(_("Theme"), 24),
            Column(_("From"), DATE_WIDTH, "date"),
            Column(_("Kind"), 18),
            Column(_("What"), 32),
            Column(_("Amount"), MONEY_WIDTH, "money", total=True),
            Column(_("How it came"), 24),
            Column(_("Cost of the lot"), MONEY_WIDTH, "money"),
            Column(_("Uses so far"), 10, "count"),
            Column(_("Uses expected"), 10, "count"),
            Column(_("Left of its cost"), MONEY_WIDTH, "money"),
        ]
        rows = [
            (theme.run.theme.name, theme.run.start, str(kind), cost.label, cost.amount, *_lot_cells(cost.source))
            for theme in self.result.themes
            for kind, cost in theme.lines
        ]
        return paper.table(columns, rows, main=True, total_label=_("All themes"))

    def _receipts(self) -> Table:
        paper = self._sheet(_("Receipts"), _("Index of receipts"))
        columns = [
            Column(_("Counted on"), DATE_WIDTH, "date"),
            Column(_("On the bill"), DATE_WIDTH, "date"),
            Column(_("Shop"), 28),
            Column(_("Themes"), 32),
            Column(_("Paper kept"), 10),
            Column(_("Sales tax"), 12, "money", total=True),
            Column(_("Total"), MONEY_WIDTH, "money", total=True),
            Column(_("Business"), MONEY_WIDTH, "money", total=True),
            Column(_("Personal"), MONEY_WIDTH, "money", total=True),
            Column(_("Not divided yet"), MONEY_WIDTH, "money", total=True),
        ]
        rows = [
            (
                each.counted_on,
                each.receipt.bill_date,
                each.receipt.shop,
                each.themes,
                _("yes") if each.receipt.paper_id else _("no"),
                each.receipt.tax,
                each.receipt.total,
                each.business,
                each.personal,
                each.waiting,
            )
            for each in self.result.receipts
        ]
        return paper.table(columns, rows, main=True, total_label=_("All receipts"))

    def _home(self) -> None:
        home = self.result.home
        paper = self._sheet(_("Home share"), _("Business share of the home"))
        paper.line(home_words(self.result.home))
        paper.skip()
        units: dict[str, PaperKind] = {"share": "share", "money": "money", "days": "count"}
        columns = [Column(_("Step"), 44), Column(_("Arithmetic"), 40), Column(_("Result"), 14, "share")]
        steps = [
            (_(step.label), step.expression, Figure(step.result, units.get(step.unit, "hours"))) for step in home.steps
        ]
        paper.table(columns, steps, main=True)
        paper.sheet.auto_filter.ref = None
        paper.skip()
        if home.hours:
            paper.line(_("Hours of use, overlaps counted once"), style="Section")
            hours = [
                (_("Children present"), "", home.hours.care),
                (_("Other work at home while no child is here"), "", home.hours.work),
                (_("Hours the home was used"), "", home.hours.total),
                (_("Work at home as recorded, overlaps included"), "", home.hours.work_recorded),
                (_("Stays without a departure, left out"), "", Figure(home.hours.open_stays, "count")),
            ]
            paper.table([Column(_("Hours"), 44), Column("", 40), Column(_("Result"), 14, "hours")], hours)
            paper.skip()
        if home.rooms:
            paper.line(_("Rooms, each use weighing by its days"), style="Section")
            unit = self.result.provider.get_area_unit_display()
            rooms = [
                (room.name, f"{room.use.label}, {room.days} ÷ {home.days_counted} × {figure(room.floor)}", room.area)
                for room in home.rooms
            ]
            title = _("Area counted, %(unit)s") % {"unit": unit}
            paper.table([Column(_("Room"), 44), Column(_("Use"), 40), Column(title, 14, "area")], rooms)
            paper.line(
                _("Whole home: %(area)s %(unit)s.") % {"area": figure(self.result.provider.home_area), "unit": unit}
            )

    def _notes(self, rules: Rulebook) -> None:
        paper = self._sheet(_("Notes"), _("Notes, sources and cautions"))
        columns = [Column(_("About"), 30), Column(_("Source or caution"), 104), Column(_("Checked"), 20)]
        entries = [
            (_("Usual basis of accounting"), rules.income.source, rules.income.checked),
            (_("Home share"), rules.home.source, rules.home.checked),
            *((f"{line.form} {line.number}", line.source, line.checked) for line in rules.lines),
        ]
        rows = [(_("Caution"), caution, "") for caution in self.result.cautions]
        rows += [(about, source, _checked(checked)) for about, source, checked in entries]
        rows += [
            (
                _("Receipts"),
                _("A receipt counts on the day it was paid.")
                if self.result.is_cash
                else _("A receipt counts on the day on the bill."),
                "",
            ),
            (
                _("Invoices"),
                _("An invoice belongs to the year in which the period it covers starts. Credit notes are negative."),
                "",
            ),
            (
                _("Shared purchases"),
                _("A line shared by the home share takes that of the year on its bill, rounded once to the cent."),
                "",
            ),
            (
                _("Theme costs"),
                _("Reuse charge: (value - residual) / runs left, each time a lot is placed, never past its cost."),
                "",
            ),
        ]
        paper.table(columns, rows, main=True)


def _lot_cells(source: ReceiptLine | LotInRun) -> tuple[Any, ...]:
    """What a cost sheet says of a lot; blank beside a receipt line."""
    if isinstance(source, ReceiptLine):
        return "", None, None, None, None
    lot, share = source.lot, source.share
    uses = (None, None) if source.is_consumable else (share.use, lot.expected_uses)
    return lot.get_how_display(), share.basis, *uses, share.left


def home_words(home: HomeShareOfYear) -> str:
    """Where the home share comes from, in a sentence."""
    if home.share is None:
        return _("Unknown. %(problem)s") % {"problem": home.problem}
    if home.stated:
        return _("Provisional, as stated by the owner while the year runs")
    if home.is_provisional:
        return _("Provisional, from the records of the year so far")
    return _("From the rooms and records of the whole year")


def _number(line: TaxLine) -> str:
    return f"{line.form} {line.number}"


def _checked(checked: str) -> str:
    return _("check: from memory") if checked == "memory" else _("read")
