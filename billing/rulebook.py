"""Tax rules as data: one file per country, one per country and year, and the categories they share.

`rules/categories.toml` lists what a receipt line can be; `rules/<country>.toml` the country's methods, and its lines
the dates they hold for; `rules/<country>_<year>.toml` the figures of a year. A year is supported when it has a file.
Every entry names its source and whether that was read (`published`) or remembered (`memory`). Figures are quoted in the
files, so that no float comes near them.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from itertools import combinations
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from provider.periods import DateSpan
from provider.rule_files import RuleFileError, build, check_once, read_file

Treatment = Literal["expense", "food", "vehicle", "household", "asset"]
Checked = Literal["published", "memory"]

RULES = Path(__file__).parent / "rules"


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
    found = [build(path, raw, Category) for raw in read_file(path, {"category"})["category"]]
    check_once(path, "category", [category.code for category in found])
    return MappingProxyType({category.code: category for category in found})


def category(code: str) -> Category:
    """Raises UnknownCategory."""
    try:
        return categories()[code]
    except KeyError:
        raise UnknownCategory(code) from None


@cache
def load_rulebook(country: str, year: int) -> Rulebook:
    """The rules of a country (`US`, `CA`) and calendar year. Raises RulebookMissing, RuleFileError."""
    year_path = RULES / f"{country.lower()}_{year}.toml"
    if not re.fullmatch("[A-Z]{2}", country) or not year_path.exists():
        raise RulebookMissing(country, year)
    path = RULES / f"{country.lower()}.toml"
    base = read_file(path, {"country", "name", "currency", "income", "home", "line"})
    of_year = read_file(year_path, {"country", "year", "figure"}, optional={"forms_note"})
    if (base["country"], of_year["country"], of_year["year"]) != (country, country, year):
        raise RuleFileError(f"{year_path.name}: the country or year in the file is another one")
    span = DateSpan.year(year)
    lines = [build(path, raw, TaxLine) for raw in base["line"]]
    lines = [line for line in lines if line.effective.overlaps(span)]
    figures = [build(year_path, raw, Figure) for raw in of_year["figure"]]
    check_once(path, "line", [line.code for line in lines])
    _check_mapped(path, lines)
    _check_apart(year_path, figures)
    return Rulebook(
        country=country,
        name=base["name"],
        currency=base["currency"],
        year=year,
        income=build(path, base["income"], IncomeRule),
        home=build(path, base["home"], HomeRule),
        lines=tuple(lines),
        figures=tuple(figures),
        forms_note=of_year.get("forms_note", ""),
    )


def supported_years() -> tuple[tuple[str, int], ...]:
    """Every (country, year) with a rule file, in order."""
    names = (re.fullmatch(r"([a-z]{2})_(\d{4})", path.stem) for path in RULES.glob("*.toml"))
    return tuple(sorted((name[1].upper(), int(name[2])) for name in names if name))


def validate_all() -> None:
    """Read every rule file once, at start-up. Raises RuleFileError."""
    for country, year in supported_years():
        load_rulebook(country, year)


def _check_mapped(path: Path, lines: Sequence[TaxLine]) -> None:
    mapped = [code for line in lines for code in line.categories]
    check_once(path, "category", mapped)
    differing = categories().keys() ^ set(mapped)
    if differing:
        raise RuleFileError(f"{path.name}: categories without a line, or unknown: {', '.join(sorted(differing))}")


def _check_apart(path: Path, figures: Sequence[Figure]) -> None:
    for one, other in combinations(figures, 2):
        if one.code == other.code and one.effective.overlaps(other.effective):
            raise RuleFileError(f"{path.name}: two figures {one.code} for the same days")
