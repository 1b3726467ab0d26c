"""The year-end workbook as a file."""

import io
import zipfile
from datetime import date, datetime
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from billing.selectors.year import year_result
from billing.workbook import build_workbook
from billing.workbook.paper import Book, Column
from billing.workbook.year import NoTaxRules
from tests.billing.books import make_year
from tests.factories import make_provider

AFTER = date(2026, 2, 1)


@pytest.fixture
def result(db):
    provider = make_provider(name="Home & garden")
    make_year(provider)
    return year_result(provider, 2025, AFTER)


@pytest.fixture
def workbook(result):
    return load_workbook(io.BytesIO(build_workbook(result)))


def texts(sheet):
    return [cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]


def test_it_has_the_sheets_a_preparer_needs(workbook):
    assert workbook.sheetnames == [
        "Summary",
        "Income earned",
        "Income received",
        "Expenses",
        "Tax lines",
        "Not yet computed",
        "Theme costs",
        "Theme cost sheets",
        "Receipts",
        "Home share",
        "Notes",
    ]


def test_it_writes_real_dates_and_numbers(workbook):
    sheet = workbook["Income earned"]
    row = [sheet.cell(5, column).value for column in range(1, 6)]
    assert row == ["2025-0001", datetime(2025, 1, 1), datetime(2025, 1, 1), datetime(2025, 1, 31), 812.35]
    assert sheet.cell(5, 2).number_format == "yyyy-mm-dd"


def test_it_freezes_repeats_and_filters_the_header_of_a_list(workbook):
    sheet = workbook["Expenses"]
    assert (sheet["A4"].value, sheet.freeze_panes, sheet.print_title_rows) == ("Tax line", "A5", "$4:$4")
    assert sheet.auto_filter.ref.startswith("A4:K")
    assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth) == ("landscape", 1)


def test_its_totals_are_live_and_rounded(workbook):
    formulas = [
        cell.value
        for sheet in workbook
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f" and "SUM(" in cell.value
    ]
    assert formulas
    assert all(formula.startswith("=ROUND(SUM(") and formula.endswith(",2)") for formula in formulas)


@pytest.mark.django_db
def test_every_formula_carries_its_known_result(result):
    data = build_workbook(result)
    live, cached = load_workbook(io.BytesIO(data)), load_workbook(io.BytesIO(data), data_only=True)
    formulas = [cell for sheet in live for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert len(formulas) > 20
    assert all(cached[cell.parent.title][cell.coordinate].value is not None for cell in formulas)


@pytest.mark.parametrize("text", ["=cmd()", "+1", "-3", "@x", "\ttab", "\r\nline", "=1+1", "plain"])
def test_it_keeps_text_that_looks_like_a_formula_as_text(text):
    book = Book(title="T", author="A", made_on=AFTER)
    book.sheet("S", "H", []).table([Column("Shop", 10)], [(text,)])
    cell = load_workbook(io.BytesIO(book.save()))["S"].cell(3, 1)
    assert (cell.data_type, cell.value) == ("s", text.replace("\r\n", "\n"))
    assert cell.quotePrefix == (text != "plain")


def test_it_drops_characters_that_a_file_cannot_hold():
    book = Book(title="T", author="A", made_on=AFTER)
    book.sheet("S", "H", []).table([Column("Shop", 10)], [("bad\x07bell",)])
    assert load_workbook(io.BytesIO(book.save()))["S"].cell(3, 1).value == "badbell"


def test_it_sums_an_empty_list_to_zero():
    book = Book(title="T", author="A", made_on=AFTER)
    table = book.sheet("S", "H", []).table([Column("Amount", 10, "money", total=True)], [])
    assert table.totals["Amount"].result == Decimal("0.00")
    assert table.totals["Amount"].text == "=ROUND(SUM(A3:A3),2)"


def test_the_names_of_shops_stay_words_in_the_real_workbook(workbook):
    shops = {
        cell.value: cell.data_type
        for name in ("Expenses", "Receipts", "Not yet computed")
        for cell in workbook[name]["C"]
    }
    assert (shops["=cmd()"], shops["+1"]) == ("s", "s")


def test_it_names_no_child_and_no_family(result, workbook):
    words = " ".join(text for sheet in workbook for text in texts(sheet))
    assert "Family" not in words
    assert "Child " not in words


@pytest.mark.django_db
def test_it_marks_an_invented_business_on_every_sheet():
    result = year_result(make_provider(is_example=True), 2025, AFTER)
    workbook = load_workbook(io.BytesIO(build_workbook(result)))
    assert all("Invented business" in sheet["A3"].value for sheet in workbook)


@pytest.mark.django_db
def test_the_same_year_gives_the_same_bytes(result):
    assert build_workbook(result) == build_workbook(result)


@pytest.mark.django_db
def test_its_properties_tell_nothing_of_the_machine(result):
    with zipfile.ZipFile(io.BytesIO(build_workbook(result))) as package:
        properties = package.read("docProps/core.xml").decode() + package.read("docProps/app.xml").decode()
    assert "2026-02-01T00:00:00Z" in properties
    assert "Home &amp; garden" in properties
    assert "Excel" not in properties


@pytest.mark.django_db
def test_it_needs_no_query(result, django_assert_num_queries):
    with django_assert_num_queries(0):
        build_workbook(result)


@pytest.mark.django_db
def test_it_refuses_a_year_without_rules():
    provider = make_provider(opened_on=date(2001, 1, 1))
    with pytest.raises(NoTaxRules, match="2001"):
        build_workbook(year_result(provider, 2001, AFTER))
