"""Reading a roster: files as spreadsheets write them, cells as people type them."""

import io
import zipfile
from datetime import date, datetime, time

import pytest
from openpyxl import Workbook

from provider.periods import DateSpan
from provider.roster import (
    MAX_BYTES,
    MAX_ROWS,
    MAX_UNPACKED,
    Known,
    Roster,
    UnreadableRoster,
    plan,
    read_roster,
    read_table,
    read_time,
    read_weekdays,
)

TODAY = date(2026, 3, 16)
HEAD = ["family", "child", "birth date", "first day", "weekdays", "arrives", "leaves"]
ROW = ["Brook", "Ada Brook", "2023-05-14", "2026-04-01", "Mon-Fri", "8:00", "16:30"]


def _roster(*rows: list[str], head: list[str] | None = None) -> Roster:
    return read_roster([head or HEAD, *rows], month_first=True, today=TODAY)


def _codes(*rows: list[str], head: list[str] | None = None) -> list[tuple[int, str, str]]:
    return [(each.row, each.column, each.code) for each in _roster(*rows, head=head).problems]


def _changed(**cells: str) -> list[str]:
    return [cells.get(name.replace(" ", "_"), cell) for name, cell in zip(HEAD, ROW, strict=True)]


def _workbook(*rows: list[object]) -> bytes:
    book, kept = Workbook(), io.BytesIO()
    for row in rows:
        book.worksheets[0].append(row)
    book.save(kept)
    return kept.getvalue()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_it_reads_text_with_any_usual_mark_and_encoding(mark: str, encoding: str) -> None:
    content = f"family{mark}child\r\nLefèvre{mark}Zoé\r\n".encode(encoding)

    assert read_table(content) == [["family", "child"], ["Lefèvre", "Zoé"]]


def test_it_keeps_line_breaks_and_marks_inside_quotes() -> None:
    assert read_table(b'family,address\nBrook,"1 Lane, 2nd floor\nTown"\n')[1] == ["Brook", "1 Lane, 2nd floor\nTown"]


def test_it_reads_a_workbook_with_real_dates_times_and_numbers() -> None:
    content = _workbook(["child", "born", "at", "phone"], ["Ada", datetime(2023, 5, 14), time(8, 30), 5550142.0])

    assert read_table(content)[1] == ["Ada", "2023-05-14", "08:30", "5550142"]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"a" * (MAX_BYTES + 1), "too_large"),
        (b"family\n" + b"x\n" * (MAX_ROWS + 1), "too_many_rows"),
        (b"PK\x03\x04 broken", "not_a_table"),
        (b"a\0b,c", "not_a_table"),
        (b'family\n"never closed', "not_a_table"),
    ],
)
def test_it_says_what_is_wrong_with_a_file(content: bytes, code: str) -> None:
    with pytest.raises(UnreadableRoster) as refusal:
        read_table(content)

    assert refusal.value.code == code


def test_it_does_not_unpack_a_workbook_that_grows_beyond_all_measure() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("xl/worksheets/sheet1.xml", b" " * (MAX_UNPACKED + 1))

    with pytest.raises(UnreadableRoster) as refusal:
        read_table(packed.getvalue())

    assert refusal.value.code == "too_large"


def test_it_takes_as_many_rows_as_it_promises() -> None:
    assert len(read_table(b"family\n" + b"x\n" * MAX_ROWS + b"\n\n")) == MAX_ROWS + 1


def test_it_reads_headings_in_any_case_and_order_and_names_the_unused() -> None:
    roster = read_roster(
        [["CHILD", "Shoe size", "Birth_Date", " Family "], ["Ada", "9", "2023-05-14", "Brook"]],
        month_first=True,
        today=TODAY,
    )

    assert (roster.rows[0].family, roster.rows[0].child, roster.unused) == ("Brook", "Ada", ("Shoe size",))


@pytest.mark.parametrize(
    ("head", "code"),
    [(["family", "child"], "missing_columns"), (["family", "child", "birth date", "Child"], "twice")],
)
def test_it_refuses_a_file_whose_headings_do_not_fit(head: list[str], code: str) -> None:
    with pytest.raises(UnreadableRoster) as refusal:
        _roster(["a", "b", "2023-01-01", "c"], head=head)

    assert refusal.value.code == code


def test_it_reads_a_whole_row() -> None:
    roster = _roster(ROW)

    row = roster.rows[0]
    assert roster.problems == ()
    assert (row.number, row.birth_date, row.first_day) == (2, date(2023, 5, 14), date(2026, 4, 1))
    assert (row.weekdays, row.arrives, row.leaves) == ((0, 1, 2, 3, 4), time(8), time(16, 30))


def test_it_counts_rows_as_the_spreadsheet_does() -> None:
    assert [row.number for row in _roster(ROW, ["", "", "", "", "", "", ""], ROW).rows] == [2, 4]


@pytest.mark.parametrize(
    ("changes", "column", "code"),
    [
        ({"family": ""}, "family", "missing"),
        ({"child": "x" * 121}, "child", "too_long"),
        ({"birth_date": "soon"}, "birth date", "bad_date"),
        ({"birth_date": "2026-02-30"}, "birth date", "bad_date"),
        ({"birth_date": "2026-03-17", "first_day": "2026-09-01"}, "birth date", "future"),
        ({"birth_date": "1999-01-01"}, "birth date", "too_old"),
        ({"first_day": "2023-05-13"}, "first day", "before_birth"),
        ({"leaves": "7:00"}, "leaves", "before_arrival"),
        ({"arrives": "25:00"}, "arrives", "bad_time"),
        ({"weekdays": "always"}, "weekdays", "bad_weekdays"),
        ({"weekdays": ""}, "weekdays", "needed_for_place"),
        ({"leaves": ""}, "leaves", "needed_for_place"),
        ({"first_day": ""}, "first day", "missing"),
    ],
)
def test_it_names_row_and_column_of_a_problem(changes: dict[str, str], column: str, code: str) -> None:
    assert _codes(ROW, _changed(**{"child": "Second", **changes})) == [(3, column, code)]


def test_it_wants_a_guardian_to_whom_a_telephone_belongs() -> None:
    head = ["family", "child", "birth date", "telephone", "e-mail"]

    assert _codes(["Brook", "Ada", "2023-05-14", "555-0142", "no mail"], head=head) == [
        (2, "e-mail", "bad_email"),
        (2, "guardian", "missing"),
    ]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("8", time(8)),
        ("08:30", time(8, 30)),
        ("8:30:00", time(8, 30)),
        ("17.15", time(17, 15)),
        ("5:30 pm", time(17, 30)),
        ("5 p.m.", time(17)),
        ("12:10 AM", time(0, 10)),
        ("12 pm", time(12)),
    ],
)
def test_it_reads_times_as_people_type_them(text: str, moment: time) -> None:
    assert read_time(text) == moment


@pytest.mark.parametrize("text", ["", "half past", "24:00", "8:75", "13 pm", "0 am"])
def test_it_refuses_what_is_no_time(text: str) -> None:
    with pytest.raises(ValueError, match="bad_time"):
        read_time(text)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri", (0, 1, 2, 3, 4)),
        ("monday to wednesday", (0, 1, 2)),
        ("Mo, We & Fr", (0, 2, 4)),
        ("tues thurs", (1, 3)),
        ("Sat – Mon", (0, 5, 6)),
    ],
)
def test_it_reads_weekdays_as_people_type_them(text: str, days: tuple[int, ...]) -> None:
    assert read_weekdays(text) == days


@pytest.mark.parametrize("text", ["T", "every day", "Mon-", "-"])
def test_it_refuses_weekdays_that_can_be_two(text: str) -> None:
    with pytest.raises(ValueError, match="bad_weekdays"):
        read_weekdays(text)


def test_it_says_what_each_row_will_do() -> None:
    known = Known(frozenset({"alder", "cedar"}), {("cedar", "old child"): date(2023, 5, 14)})
    roster = _roster(
        _changed(family="Brook", child="One"),
        _changed(family="brook", child="Two"),
        _changed(family="Alder", child="Three"),
        _changed(family="Cedar", child="Old Child"),
    )

    assert [each.act for each in plan(roster, known)] == ["new_family", "joins_row", "joins_family", "there"]


def test_it_finds_problems_between_rows_and_books() -> None:
    known = Known(
        frozenset({"cedar"}),
        {("cedar", "old child"): date(2022, 1, 1)},
        (DateSpan(date(2025, 1, 1), date(2026, 1, 1)),),
    )
    roster = _roster(
        _changed(child="One"),
        _changed(child="ONE"),
        _changed(family="Cedar", child="Old Child"),
        _changed(child="Early", first_day="2025-06-01"),
    )

    codes = [[problem.code for problem in each.problems] for each in plan(roster, known)]

    assert codes == [[], ["repeated"], ["other_birth_date"], ["closed"]]
