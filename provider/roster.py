"""A roster from a spreadsheet: read into rows of text, checked cell by cell, and compared with what is there.

Nothing here knows the database or the clock. Problems are codes; the form that shows them has the words.
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

from openpyxl import load_workbook

from provider.days import read_day
from provider.periods import DateSpan

MAX_BYTES = 2 * 1024 * 1024
MAX_UNPACKED = 40 * 1024 * 1024
MAX_ROWS = 1_000
MAX_COLUMNS = 40

Table = list[list[str]]


class UnreadableRoster(ValueError):
    """`code` is one of too_large, too_many_rows, not_a_table, no_rows, missing_columns, twice."""

    def __init__(self, code: str, detail: str = "") -> None:
        super().__init__(code)
        self.code = code
        self.detail = detail


@dataclass(frozen=True, slots=True)
class Column:
    """`longest` is the most letters that are kept; `needed` columns must stand in the file."""

    name: str
    longest: int = 0
    needed: bool = False


COLUMNS = {
    column.name: column
    for column in (
        Column("family", 120, needed=True),
        Column("guardian", 120),
        Column("telephone", 40),
        Column("e-mail", 254),
        Column("address", 500),
        Column("child", 120, needed=True),
        Column("called", 60),
        Column("birth date", needed=True),
        Column("first day"),
        Column("weekdays"),
        Column("arrives"),
        Column("leaves"),
        Column("allergies", 200),
        Column("physician", 160),
    )
}


@dataclass(frozen=True, slots=True)
class Problem:
    """`row` is the line in the file, headings being line 1. `code` is one of the keys of the form's PROBLEMS."""

    row: int
    column: str
    code: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class RosterRow:
    """One child. `weekdays` are 0 Monday to 6; without a `first_day` the child gets no place yet."""

    number: int
    family: str
    guardian: str
    telephone: str
    email: str
    address: str
    child: str
    called: str
    birth_date: date | None
    first_day: date | None
    weekdays: tuple[int, ...]
    arrives: time | None
    leaves: time | None
    allergies: str
    physician: str

    @property
    def family_key(self) -> str:
        return self.family.casefold()

    @property
    def child_key(self) -> tuple[str, str]:
        return self.family_key, self.child.casefold()


@dataclass(frozen=True, slots=True)
class Roster:
    rows: tuple[RosterRow, ...]
    problems: tuple[Problem, ...]
    unused: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What the books hold: names in lower case. `closed` are the spans in which nothing may change."""

    families: frozenset[str] = frozenset()
    children: dict[tuple[str, str], date] = field(default_factory=dict)
    closed: tuple[DateSpan, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """`act` is new_family, joins_family, joins_row, there or problem."""

    row: RosterRow
    act: str
    problems: tuple[Problem, ...]


def read_table(content: bytes) -> Table:
    """The cells of a CSV or XLSX file as text, dates as 2026-03-27 and times as 08:30. Raises UnreadableRoster."""
    if len(content) > MAX_BYTES:
        raise UnreadableRoster("too_large")
    rows = _workbook_rows(content) if content.startswith(b"PK\x03\x04") else _text_rows(content)
    table: Table = []
    for row in rows:
        cells = [cell.strip() for cell in row[:MAX_COLUMNS]]
        while cells and not cells[-1]:
            cells.pop()
        table.append(cells)
        if len(table) > MAX_ROWS + 1:
            if cells:
                raise UnreadableRoster("too_many_rows")
            break
    while table and not table[-1]:
        table.pop()
    return table


def read_roster(table: Table, *, month_first: bool, today: date) -> Roster:
    """Check every cell. With `month_first` a date like 3/4/2026 is the fourth of March, else it is questioned."""
    if not table:
        raise UnreadableRoster("no_rows")
    names = [" ".join(re.split(r"[\s_]+", cell.casefold())).strip() for cell in table[0]]
    known = [name for name in names if name in COLUMNS]
    if len(set(known)) < len(known):
        raise UnreadableRoster("twice", next(name for name in known if known.count(name) > 1))
    if missing := [column.name for column in COLUMNS.values() if column.needed and column.name not in known]:
        raise UnreadableRoster("missing_columns", ", ".join(missing))
    rows, problems = [], []
    for number, cells in enumerate(table[1:], 2):
        if any(cells):
            row, wrong = _read_row(number, dict(zip(names, cells, strict=False)), month_first, today)
            rows.append(row)
            problems.extend(wrong)
    if not rows:
        raise UnreadableRoster("no_rows")
    unused = tuple(cell for cell, name in zip(table[0], names, strict=True) if cell and name not in COLUMNS)
    return Roster(tuple(rows), tuple(problems), unused)


def plan(roster: Roster, known: Known) -> list[PlannedRow]:
    """What each row will do to the books."""
    wrong: dict[int, list[Problem]] = {}
    for problem in roster.problems:
        wrong.setdefault(problem.row, []).append(problem)
    planned: list[PlannedRow] = []
    seen: dict[tuple[str, str], int] = {}
    begun: set[str] = set()
    for row in roster.rows:
        problems = wrong.get(row.number, [])
        there = known.children.get(row.child_key)
        if row.child_key in seen and row.child:
            problems.append(Problem(row.number, "child", "repeated", str(seen[row.child_key])))
        seen.setdefault(row.child_key, row.number)
        if there is not None and row.birth_date is not None and there != row.birth_date:
            problems.append(Problem(row.number, "birth date", "other_birth_date", there.isoformat()))
        place = DateSpan(row.first_day) if row.first_day else None
        if there is None and place and any(place.overlaps(span) for span in known.closed):
            problems.append(Problem(row.number, "first day", "closed", str(row.first_day)))
        if problems:
            act = "problem"
        elif there is not None:
            act = "there"
        elif row.family_key in known.families:
            act = "joins_family"
        else:
            act = "joins_row" if row.family_key in begun else "new_family"
            begun.add(row.family_key)
        planned.append(PlannedRow(row, act, tuple(problems)))
    return planned


def _workbook_rows(content: bytes) -> Iterator[list[str]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MAX_UNPACKED:
                raise UnreadableRoster("too_large")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        rows = book.worksheets[0].iter_rows(max_row=MAX_ROWS + 2, max_col=MAX_COLUMNS, values_only=True)
        yield from ([_cell_text(cell) for cell in row] for row in rows)
    except UnreadableRoster:
        raise
    except Exception as error:  # a parser may raise anything on a damaged file
        raise UnreadableRoster("not_a_table") from error


def _text_rows(content: bytes) -> Iterator[list[str]]:
    try:
        if content.startswith((b"\xff\xfe", b"\xfe\xff")):
            text = content.decode("utf-16")
        else:
            try:
                text = content.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = content.decode("cp1252")
        if "\0" in text:
            raise UnreadableRoster("not_a_table")
        head = text.split("\n", 1)[0]
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count), strict=True)
    except (UnicodeDecodeError, csv.Error) as error:
        raise UnreadableRoster("not_a_table") from error


def _cell_text(cell: Any) -> str:
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else f"{cell:%Y-%m-%d %H:%M}"
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return f"{cell:%H:%M}"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else str(cell)


def _read_row(number: int, cells: dict[str, str], month_first: bool, today: date) -> tuple[RosterRow, list[Problem]]:
    problems: list[Problem] = []

    def text(name: str) -> str:
        value = " ".join(cells.get(name, "").split())
        if COLUMNS[name].needed and not value:
            problems.append(Problem(number, name, "missing"))
        if COLUMNS[name].longest and len(value) > COLUMNS[name].longest:
            problems.append(Problem(number, name, "too_long", str(COLUMNS[name].longest)))
        return value

    def parsed(name: str, parse: Any) -> Any:
        value = text(name)
        try:
            return parse(value) if value else None
        except ValueError as error:
            problems.append(Problem(number, name, str(error), value))
            return None

    def day(value: str) -> date:
        return read_day(value, month_first=month_first)

    row = RosterRow(
        number,
        text("family"),
        text("guardian"),
        text("telephone"),
        parsed("e-mail", _email) or "",
        text("address"),
        text("child"),
        text("called"),
        parsed("birth date", day),
        parsed("first day", day),
        parsed("weekdays", read_weekdays) or (),
        parsed("arrives", read_time),
        parsed("leaves", read_time),
        text("allergies"),
        text("physician"),
    )
    problems.extend(_across(row, {problem.column for problem in problems}, today))
    return row, problems


def _across(row: RosterRow, wrong: set[str], today: date) -> Iterator[Problem]:
    """Problems between cells, where each is well by itself."""
    if row.birth_date and row.birth_date > today:
        yield Problem(row.number, "birth date", "future")
    if row.birth_date and today.year - row.birth_date.year > 18:
        yield Problem(row.number, "birth date", "too_old")
    if row.birth_date and row.first_day and row.first_day < row.birth_date:
        yield Problem(row.number, "first day", "before_birth")
    if row.arrives and row.leaves and row.leaves <= row.arrives:
        yield Problem(row.number, "leaves", "before_arrival")
    if row.first_day:
        for name, value in (("weekdays", row.weekdays), ("arrives", row.arrives), ("leaves", row.leaves)):
            if not value and name not in wrong:
                yield Problem(row.number, name, "needed_for_place")
    elif "first day" not in wrong and (row.weekdays or row.arrives or row.leaves):
        yield Problem(row.number, "first day", "missing")
    if not row.guardian and (row.telephone or row.email):
        yield Problem(row.number, "guardian", "missing")


_TIME = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?::00)? ?([ap])?\.?m?\.?", re.IGNORECASE)


def read_time(text: str) -> time:
    """`8:30`, `17:00`, `5:30 pm`, `8`. ValueError with the code bad_time."""
    match = _TIME.fullmatch(text)
    if match is None:
        raise ValueError("bad_time")
    hour, minute, half = int(match[1]), int(match[2] or 0), (match[3] or "").lower()
    if half and not 1 <= hour <= 12:
        raise ValueError("bad_time")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    try:
        return time(hour, minute)
    except ValueError as error:
        raise ValueError("bad_time") from error


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def read_weekdays(text: str) -> tuple[int, ...]:
    """`Mon-Fri`, `Mon, Wed, Fri`, `Tuesday Thursday`; two letters are enough. ValueError with the code bad_weekdays."""
    found: set[int] = set()
    spaced = re.sub(r"\s*(?:[-–]|\bto\b)\s*", "-", text.casefold())
    for part in re.split(r"[\s,;/+&]+", spaced.strip(" ,;/+&.")):
        first, dash, last = part.partition("-")
        begin, end = _weekday(first), _weekday(last if dash else first)
        found.update(range(begin, end + 1) if begin <= end else [*range(begin, 7), *range(end + 1)])
    return tuple(sorted(found))


def _weekday(word: str) -> int:
    word = word.rstrip(".")
    matches: Sequence[int] = [n for n, name in enumerate(WEEKDAYS) if len(word) >= 2 and name.startswith(word)]
    if len(matches) != 1:
        raise ValueError("bad_weekdays")
    return matches[0]


def _email(text: str) -> str:
    if not re.fullmatch(r"[^@\s]+@[^@\s]+\.[^@\s.]+", text):
        raise ValueError("bad_email")
    return text
