"""Tax rules as data: one file per country, one per country and year, and the categories they share.

`rules/categories.toml` lists what a receipt line can be; `rules/<country>.toml` the country's methods, and its lines
the dates they hold for; `rules/<country>_<year>.toml` the figures of a year. A year is supported when it has a file.
Every entry names its source and whether that was read (`published`) or remembered (`memory`). Figures are quoted in the
files, so that no float comes near them.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from itertools import combinations
from pathlib import Path
from types import MappingProxyType, NoneType
from typing import Any, Literal, TypeVar, get_args, get_origin

from provider.periods import DateSpan

Treatment = Literal["expense", "food", "vehicle", "household", "asset"]
Checked = Literal["published", "memory"]

Entry = TypeVar("Entry")

RULES = Path(__file__).parent / "rules"


class RulebookError(ValueError):
    """A rule file is faulty; the message names the file and the entry."""


class RulebookMissing(LookupError):
    """There is no rule file for this country and year: nothing of the tax output may be guessed."""

    def __init__(self, country: str, year: int) -> None:
        super().__init__(f"no tax rules for {country} {year}")
        self.country = country
        self.year = year


class UnknownCategory(LookupError):
    """No category has this code."""


@dataclass(frozen=True, slots=True)
class Category:
    """What a receipt line was bought for. `name` is an English message id."""

    code: str
    name: str
    treatment: Treatment


@dataclass(frozen=True, slots=True)
class TaxLine:
    """A line of a tax form and the categories that go there."""

    code: str
    form: str
    number: str
    name: str
    source: str
    checked: Checked
    effective: DateSpan
    categories: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.form} {self.number} {self.name}"


@dataclass(frozen=True, slots=True)
class Figure:
    """A rate or limit in `unit`, for the days in `effective`."""

    code: str
    value: Decimal
    unit: str
    source: str
    checked: Checked
    effective: DateSpan


@dataclass(frozen=True, slots=True)
class IncomeRule:
    """The usual basis of accounting."""

    basis: Literal["cash", "accrual"]
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class HomeRule:
    """How the business share of the home is found: the calculator to use and its rounding."""

    method: Literal["hours_of_year", "usual_week"]
    rounding: Literal["published", "unrounded"]
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class Rulebook:
    """The rules of one country and calendar year. `forms_note` says what is not yet certain about its forms."""

    country: str
    name: str
    currency: str
    year: int
    income: IncomeRule
    home: HomeRule
    lines: tuple[TaxLine, ...]
    figures: tuple[Figure, ...]
    forms_note: str = ""

    def line_for(self, category: str) -> TaxLine:
        """The line a category goes to. Raises UnknownCategory."""
        for line in self.lines:
            if category in line.categories:
                return line
        raise UnknownCategory(category)

    def figure(self, code: str, day: date) -> Figure:
        """The figure in force on a day of the year. LookupError when there is none."""
        for figure in self.figures:
            if figure.code == code and day in figure.effective:
                return figure
        raise LookupError(f"no {code} for {self.country} on {day}")

    @property
    def from_memory(self) -> tuple[TaxLine | Figure, ...]:
        """What nobody could check in a public copy; pages and workbook mark it."""
        entries: list[TaxLine | Figure] = [*self.lines, *self.figures]
        return tuple(entry for entry in entries if entry.checked == "memory")


@cache
def categories() -> Mapping[str, Category]:
    """All categories by code, in the order in which they are offered."""
    path = RULES / "categories.toml"
    found = [_build(path, raw, Category) for raw in _read(path, {"category"})["category"]]
    _check_once(path, "category", [category.code for category in found])
    return MappingProxyType({category.code: category for category in found})


def category(code: str) -> Category:
    """Raises UnknownCategory."""
    try:
        return categories()[code]
    except KeyError:
        raise UnknownCategory(code) from None


@cache
def load_rulebook(country: str, year: int) -> Rulebook:
    """The rules of a country (`US`, `CA`) and calendar year. Raises RulebookMissing, RulebookError."""
    year_path = RULES / f"{country.lower()}_{year}.toml"
    if not re.fullmatch("[A-Z]{2}", country) or not year_path.exists():
        raise RulebookMissing(country, year)
    path = RULES / f"{country.lower()}.toml"
    base = _read(path, {"country", "name", "currency", "income", "home", "line"})
    of_year = _read(year_path, {"country", "year", "figure"}, optional={"forms_note"})
    if (base["country"], of_year["country"], of_year["year"]) != (country, country, year):
        raise RulebookError(f"{year_path.name}: the country or year in the file is another one")
    span = DateSpan.year(year)
    lines = [_build(path, raw, TaxLine) for raw in base["line"]]
    lines = [line for line in lines if line.effective.overlaps(span)]
    figures = [_build(year_path, raw, Figure) for raw in of_year["figure"]]
    _check_once(path, "line", [line.code for line in lines])
    _check_mapped(path, lines)
    _check_apart(year_path, figures)
    return Rulebook(
        country=country,
        name=base["name"],
        currency=base["currency"],
        year=year,
        income=_build(path, base["income"], IncomeRule),
        home=_build(path, base["home"], HomeRule),
        lines=tuple(lines),
        figures=tuple(figures),
        forms_note=of_year.get("forms_note", ""),
    )


def supported_years() -> tuple[tuple[str, int], ...]:
    """Every (country, year) with a rule file, in order."""
    names = (re.fullmatch(r"([a-z]{2})_(\d{4})", path.stem) for path in RULES.glob("*.toml"))
    return tuple(sorted((name[1].upper(), int(name[2])) for name in names if name))


def validate_all() -> None:
    """Read every rule file once, at start-up. Raises RulebookError."""
    for country, year in supported_years():
        load_rulebook(country, year)


def _read(path: Path, required: set[str], optional: Iterable[str] = ()) -> dict[str, Any]:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RulebookError(f"{path.name}: {error}") from error
    _check_keys(path, "the file", content, required, optional)
    return content


def _build(path: Path, raw: Mapping[str, Any], kind: type[Entry]) -> Entry:
    """An entry of the file as `kind`, with every key there and nothing empty, floating or outside its allowed words."""
    what, values = f"{kind.__name__} {raw.get('code', '')}".strip(), dict(raw)
    known = {field.name: field for field in fields(kind)}  # type: ignore[arg-type]
    if "effective" in known:
        values["effective"] = _span(path, what, values.pop("effective_from", None), values.pop("effective_to", None))
    required = {name for name, field in known.items() if field.default is MISSING}
    _check_keys(path, what, values, required, known)
    for name, value in values.items():
        wanted: Any = known[name].type
        try:
            if wanted is Decimal and isinstance(value, str):
                values[name] = Decimal(value)
            elif get_origin(wanted) is tuple and isinstance(value, list):
                values[name] = tuple(value)
        except InvalidOperation as error:
            raise RulebookError(f"{path.name}, {what}: {name} is no number: {value!r}") from error
        allowed = get_args(wanted) if get_origin(wanted) is Literal else None
        right = values[name] in allowed if allowed else isinstance(values[name], get_origin(wanted) or wanted)
        if values[name] == "" or not right or (wanted is Decimal and not values[name].is_finite()):
            raise RulebookError(f"{path.name}, {what}: {name} cannot be {value!r}")
    return kind(**values)


def _span(path: Path, what: str, start: Any, end: Any) -> DateSpan:
    if type(start) is not date or type(end) not in (date, NoneType):
        raise RulebookError(f"{path.name}, {what}: effective_from (and effective_to) must be dates")
    try:
        return DateSpan(start, end)
    except ValueError as error:
        raise RulebookError(f"{path.name}, {what}: {error}") from error


def _check_keys(path: Path, what: str, raw: Mapping[str, Any], required: set[str], optional: Iterable[str]) -> None:
    missing, unknown = required - raw.keys(), raw.keys() - required - set(optional)
    if missing or unknown:
        problems = [f"missing {key}" for key in sorted(missing)] + [f"unknown {key}" for key in sorted(unknown)]
        raise RulebookError(f"{path.name}, {what}: {', '.join(problems)}")


def _check_once(path: Path, what: str, codes: Sequence[str]) -> None:
    twice = [code for code, count in Counter(codes).items() if count > 1]
    if twice:
        raise RulebookError(f"{path.name}: {what} more than once: {', '.join(twice)}")


def _check_mapped(path: Path, lines: Sequence[TaxLine]) -> None:
    mapped = [code for line in lines for code in line.categories]
    _check_once(path, "category", mapped)
    differing = categories().keys() ^ set(mapped)
    if differing:
        raise RulebookError(f"{path.name}: categories without a line, or unknown: {', '.join(sorted(differing))}")


def _check_apart(path: Path, figures: Sequence[Figure]) -> None:
    for one, other in combinations(figures, 2):
        if one.code == other.code and one.effective.overlaps(other.effective):
            raise RulebookError(f"{path.name}: two figures {one.code} for the same days")
