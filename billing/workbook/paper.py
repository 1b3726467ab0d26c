"""Sheets of a workbook: typed columns, live totals with known results, print set-up. Knows nothing of the business."""

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from math import ceil
from typing import Any, Literal

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.packaging.extended import ExtendedProperties
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.xml.functions import tostring

from billing.workbook.cached import fill
from provider.money import ZERO

Kind = Literal["text", "money", "date", "share", "count", "hours", "area"]
FORMATS = {
    "money": "#,##0.00;[Red]-#,##0.00",
    "date": "yyyy-mm-dd",
    "share": "0.00%",
    "count": "#,##0",
    "hours": "#,##0.00",
    "area": "#,##0.00",
}
LEFT = ("text", "date")
LINE_HEIGHT = 15.0
# A cell that begins like this is taken for a formula by one program or another.
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
_INK, _PALE, _LINE = "FF27231C", "FFEBE4D4", "FF80775F"


@dataclass(frozen=True, slots=True)
class Column:
    """`width` is in characters. `total` adds a live sum below the column."""

    title: str
    width: int
    kind: Kind = "text"
    total: bool = False


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula and the result it must have."""

    text: str
    result: Decimal
    kind: Kind = "money"


@dataclass(frozen=True, slots=True)
class Figure:
    """A value whose kind differs from its column's."""

    value: Decimal | int
    kind: Kind


@dataclass(frozen=True, slots=True)
class Table:
    """Where a table came to lie: rows are 1-based, `first` to `last` are its data rows."""

    sheet: "Paper"
    first: int
    last: int
    totals: dict[str, Formula] = field(default_factory=dict)

    def total_of(self, title: str) -> Formula:
        """A reference from another sheet to the total of a column."""
        column = self.sheet.columns_at[self.first][title]
        return Formula(f"={self.sheet.quoted}!{column}{self.last + 1}", self.totals[title].result)

    def range_of(self, title: str) -> str:
        """A column's data cells as an absolute reference from another sheet."""
        column = self.sheet.columns_at[self.first][title]
        return f"{self.sheet.quoted}!${column}${self.first}:${column}${self.last}"


class Book:
    """A workbook in the making. `made_on` stands in for the clock in the document's properties."""

    def __init__(self, *, title: str, author: str, made_on: date) -> None:
        self.workbook = Workbook()
        self.workbook.remove(self.workbook.worksheets[0])
        self.sheets: list[Paper] = []
        properties = self.workbook.properties
        properties.title, properties.creator, properties.lastModifiedBy = title, author, author
        properties.created = datetime.combine(made_on, time())  # the format has no zone
        self.author = author
        _add_styles(self.workbook)

    def sheet(self, title: str, heading: str, remarks: Sequence[str]) -> "Paper":
        paper = Paper(self.workbook.create_sheet(title), heading, remarks)
        self.sheets.append(paper)
        return paper

    def save(self) -> bytes:
        saved = io.BytesIO()
        self.workbook.save(saved)
        properties = self.workbook.properties
        properties.modified = properties.created
        application = ExtendedProperties()
        application.Application = self.author
        application.AppVersion = None
        results = {f"xl/worksheets/sheet{number}.xml": paper.results for number, paper in enumerate(self.sheets, 1)}
        return fill(
            saved.getvalue(),
            results,
            {"docProps/core.xml": tostring(properties.to_tree()), "docProps/app.xml": tostring(application.to_tree())},
        )


class Paper:
    """One sheet, written from top to bottom."""

    def __init__(self, sheet: Worksheet, heading: str, remarks: Sequence[str]) -> None:
        self.sheet = sheet
        self.results: dict[str, Decimal] = {}
        self.columns_at: dict[int, dict[str, str]] = {}
        self.row = 1
        self._set_up_print(heading)
        self.line(heading, style="Heading")
        for remark in remarks:
            self.line(remark, style="Remark")

    @property
    def quoted(self) -> str:
        title = self.sheet.title.replace("'", "''")
        return f"'{title}'"

    def line(self, text: str, *, style: str = "Plain", across: int = 0) -> None:
        """A line of words; `across` merges that many columns and wraps it there."""
        cell = self._text(self.row, 1, text)
        cell.style = style
        if across:
            self.sheet.merge_cells(start_row=self.row, start_column=1, end_row=self.row, end_column=across)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            self._fit_height(
                [(text, sum(self.sheet.column_dimensions[get_column_letter(n)].width for n in range(1, across + 1)))]
            )
        self.row += 1

    def skip(self) -> None:
        self.row += 1

    def table(
        self, columns: Sequence[Column], rows: Iterable[Sequence[Any]], *, main: bool = False, total_label: str = ""
    ) -> Table:
        """Write a table with a total row where a column asks for one.

        `main` freezes and repeats its header and gives it a filter. An empty table keeps one blank row for its sums.
        """
        header = self.row
        self.columns_at[header + 1] = {column.title: get_column_letter(n) for n, column in enumerate(columns, 1)}
        for number, column in enumerate(columns, 1):
            cell = self._text(header, number, column.title)
            cell.style = "Header" if column.kind in LEFT else "Header of figures"
            dimension = self.sheet.column_dimensions[get_column_letter(number)]
            if main or not dimension.customWidth:
                dimension.width = column.width
        self.row += 1
        sums = {column.title: ZERO for column in columns if column.total}
        for row in rows:
            for number, (column, value) in enumerate(zip(columns, row, strict=True), 1):
                self._write(self.row, number, value, column.kind)
                if column.total and value is not None:
                    sums[column.title] += value.result if isinstance(value, Formula) else value
            self._fit_height([(value, column.width) for column, value in zip(columns, row, strict=True)])
            self.row += 1
        if self.row == header + 1:
            self.row += 1
        first, last = header + 1, self.row - 1
        totals = {}
        if sums:
            totals = self._totals(columns, sums, first, last, total_label)
            self.row += 1
        if main:
            self.sheet.freeze_panes = f"A{first}"
            self.sheet.print_title_rows = f"{header}:{header}"
            self.sheet.auto_filter.ref = f"A{header}:{get_column_letter(len(columns))}{last}"
        return Table(self, first, last, totals)

    def _fit_height(self, cells: Iterable[tuple[Any, float]]) -> None:
        """Room for the longest wrapped text of the row; not every program finds it by itself."""
        lengths = [(len(value), width) for value, width in cells if isinstance(value, str)]
        lines = max((ceil(length / room) for length, room in lengths), default=1)
        if lines > 1:
            self.sheet.row_dimensions[self.row].height = LINE_HEIGHT * lines

    def _totals(
        self, columns: Sequence[Column], sums: dict[str, Decimal], first: int, last: int, label: str
    ) -> dict[str, Formula]:
        totals = {}
        for number, column in enumerate(columns, 1):
            letter = get_column_letter(number)
            if column.title in sums:
                total = Formula(f"=ROUND(SUM({letter}{first}:{letter}{last}),2)", sums[column.title], column.kind)
                totals[column.title] = total
                self._write(self.row, number, total, column.kind)
            elif number == 1:
                self._text(self.row, 1, label)
            self.sheet.cell(self.row, number).style = f"Total {column.kind}"
        return totals

    def _write(self, row: int, number: int, value: Any, kind: Kind) -> None:
        if isinstance(value, Formula):
            cell = self.sheet.cell(row, number, value.text)
            cell.style = f"Cell {value.kind}"
            self.results[cell.coordinate] = value.result
        elif isinstance(value, str):
            self._text(row, number, value).style = "Cell text"
            if value.startswith(_RISKY):
                self.sheet.cell(row, number).quotePrefix = True
        elif isinstance(value, Figure):
            self.sheet.cell(row, number, value.value).style = f"Cell {value.kind}"
        else:
            self.sheet.cell(row, number, value).style = f"Cell {kind}"

    def _text(self, row: int, number: int, value: str) -> Cell:
        """Words stay words, whatever sign they begin with."""
        cell: Cell = self.sheet.cell(row, number)
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", re.sub("\r\n?", "\n", value))
        cell.data_type = "s"
        return cell

    def _set_up_print(self, heading: str) -> None:
        sheet = self.sheet
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = sheet.PAPERSIZE_LETTER
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.5
        sheet.oddFooter.left.text = heading.replace("&", "&&")
        sheet.oddFooter.right.text = "&P / &N"
        sheet.sheet_view.showGridLines = False


def _add_styles(workbook: Workbook) -> None:
    thin = Side(style="hair", color=_LINE)
    under = Border(bottom=thin)
    above = Border(top=Side(style="thin", color=_INK), bottom=Side(style="double", color=_INK))
    styles = [
        NamedStyle("Heading", font=Font(size=15, bold=True, color=_INK)),
        NamedStyle("Remark", font=Font(italic=True, color=_LINE)),
        NamedStyle("Plain", alignment=Alignment(vertical="top")),
        NamedStyle("Section", font=Font(size=12, bold=True, color=_INK)),
    ]
    for name, side in (("Header", "left"), ("Header of figures", "right")):
        styles.append(
            NamedStyle(
                name,
                font=Font(bold=True, color=_INK),
                fill=PatternFill("solid", fgColor=_PALE),
                border=Border(bottom=Side(style="thin", color=_INK)),
                alignment=Alignment(horizontal=side, vertical="bottom", wrap_text=True, indent=int(side == "left")),
            )
        )
    for kind in ("text", *FORMATS):
        alignment = Alignment(
            horizontal="left" if kind in LEFT else "right",
            vertical="top",
            wrap_text=kind == "text",
            indent=int(kind in LEFT),
        )
        code = FORMATS.get(kind, "General")
        styles.append(NamedStyle(f"Cell {kind}", border=under, alignment=alignment, number_format=code))
        styles.append(
            NamedStyle(f"Total {kind}", font=Font(bold=True), border=above, alignment=alignment, number_format=code)
        )
    for style in styles:
        workbook.add_named_style(style)
