"""The year-end workbook, recalculated by LibreOffice: every total agrees with the app to the cent."""

import io
import os
import subprocess
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from billing.selectors.year import year_result
from billing.workbook import build_workbook
from provider.models import Country
from tests.billing.books import make_year
from tests.factories import make_provider

AFTER = date(2026, 2, 1)


def recalculated(data, directory):
    """What LibreOffice makes of the file when it opens it, with every cached value thrown away first."""
    book = load_workbook(io.BytesIO(data))  # openpyxl drops cached values
    source = directory / "year.xlsx"
    book.save(source)
    command = ["soffice", f"-env:UserInstallation=file://{directory}/profile", "--headless"]
    command += ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", directory / "out", source]
    environment = {**os.environ, "HOME": str(directory)}
    office = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=180)
    assert office.returncode == 0, office.stdout + office.stderr
    return load_workbook(directory / "out" / "year.xlsx", data_only=True)


def money(value):
    return Decimal(str(value)).quantize(Decimal("0.01"))


def below(sheet, title):
    """The last figure in the column with this title, which is its total."""
    column = next(cell.column for cell in sheet[4] if cell.value == title)
    return [money(cell.value) for (cell,) in sheet.iter_rows(min_col=column, max_col=column) if is_figure(cell)][-1]


def is_figure(cell):
    return isinstance(cell.value, int | float) and cell.row > 4


def totals_of(book, result):
    """(the workbook's figure, the app's figure) for every total."""
    summary = {row[0].value: money(row[1].value) for row in book["Summary"].iter_rows(min_row=5, max_row=10)}
    lines = {row[0].value: money(row[3].value) for row in book["Tax lines"].iter_rows(min_row=5) if row[0].value}
    themes = {row[0].value: money(row[8].value) for row in book["Theme costs"].iter_rows(min_row=5) if row[0].value}
    yield summary["Income earned (invoiced)"], result.earned_total
    yield summary["Income received (paid)"], result.received_total
    yield summary["Deductible expenses, computed so far"], result.deductible
    yield summary["Not yet computed, as recorded"], result.not_computed_total
    yield summary["Theme costs"], result.theme_total
    yield below(book["Income earned"], "Amount"), result.earned_total
    yield below(book["Income received"], "Amount"), result.received_total
    yield below(book["Expenses"], "Deductible"), result.deductible
    yield below(book["Not yet computed"], "Cost recorded"), result.not_computed_total
    yield below(book["Receipts"], "Total"), sum(each.receipt.total for each in result.receipts)
    yield below(book["Receipts"], "Business"), sum(each.business for each in result.receipts)
    yield below(book["Receipts"], "Personal"), sum(each.personal for each in result.receipts)
    yield lines["Deductible so far"], result.deductible
    for total in result.tax_lines:
        yield lines[f"{total.line.form} {total.line.number}"], total.deductible
    yield themes["All themes"], result.theme_total
    yield below(book["Theme cost sheets"], "Amount"), result.theme_total
    for theme in result.themes:
        yield themes[theme.run.theme.name], theme.total


@pytest.mark.django_db
@pytest.mark.parametrize("country", [Country.US, Country.CANADA])
def test_every_total_agrees_recalculated_and_as_stored(country, tmp_path):
    provider = make_provider(country)
    make_year(provider)
    result = year_result(provider, 2025, AFTER)
    data = build_workbook(result)

    stored = list(totals_of(load_workbook(io.BytesIO(data), data_only=True), result))
    fresh = list(totals_of(recalculated(data, tmp_path), result))

    assert len(fresh) > 15
    assert [found for found, _ in stored] == [expected for _, expected in stored]
    assert [found for found, _ in fresh] == [expected for _, expected in fresh]


@pytest.mark.django_db
def test_words_that_look_like_formulas_are_still_words_after_recalculation(tmp_path):
    provider = make_provider()
    make_year(provider)
    book = recalculated(build_workbook(year_result(provider, 2025, AFTER)), tmp_path)
    shops = {cell.value: cell.data_type for name in ("Expenses", "Not yet computed") for cell in book[name]["C"]}
    assert (shops["=cmd()"], shops["+1"]) == ("s", "s")
