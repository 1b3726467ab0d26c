"""What to check about a material before children play with it, and for which of them. It never says that a thing is
harmless: what nobody looked at is named too. `rules/screening.toml` holds the checks with their sources.

Lengths in millimetres, ages in whole months. The licensor and local rules win.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Literal

from provider.capacity import age_in_months
from provider.rule_files import RuleFileError, build, read_file

RULES = Path(__file__).parent / "rules" / "screening.toml"
NOTHING = Decimal(0)

Finds = Literal[
    "age_mark",
    "small_parts",
    "small_ball",
    "cord",
    "loop",
    "magnet",
    "button_cell",
    "latex",
    "plastic_bag",
    "old_paint",
    "filler",
    "recall_missing",
    "recall_due",
    "recall_unsure",
    "recalled",
]
MEASURES: dict[str, tuple[str, ...]] = {
    "small_parts": ("across", "deep"),
    "small_ball": ("across",),
    "cord": ("length",),
    "loop": ("length",),
}


@dataclass(frozen=True, slots=True)
class Check:
    """One check of the file. `never` says that nothing makes it fit for play; `under_months` is None for every age."""

    code: str
    finds: Finds
    regions: tuple[str, ...]
    source: str
    checked: Literal["published", "second_hand", "memory"]
    under_months: int | None = None
    never: bool = False
    across: Decimal | None = None
    deep: Decimal | None = None
    length: Decimal | None = None
    fillers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        wanted = MEASURES.get(self.finds, ())
        given = tuple(name for name in ("across", "deep", "length") if getattr(self, name) is not None)
        if given != wanted:
            raise ValueError(f"a check of {self.finds} measures {wanted or 'nothing'}, not {given}")
        if bool(self.fillers) != (self.finds == "filler"):
            raise ValueError("fillers belong to a check of the filler, and to no other")
        if not self.regions:
            raise ValueError("it holds nowhere")
        if self.under_months is not None and (self.under_months < 1 or self.never):
            raise ValueError("an age is at least 1 month, and what is never fit has none")


@cache
def screening_checks() -> tuple[Check, ...]:
    """All checks in the order of the file. Raises RuleFileError."""
    checks = tuple(build(RULES, raw, Check) for raw in read_file(RULES, {"check"})["check"])
    places = [(check.code, region) for check in checks for region in check.regions]
    if twice := {place for place in places if places.count(place) > 1}:
        raise RuleFileError(f"{RULES.name}: more than once: {sorted(twice)}")
    return checks


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a material. None means that nobody looked, also for a side of the smallest piece.

    `smallest` are three sides in any order; a ball of `ball` across, 0 for no ball; a cord of length 0 is none.
    `recalls` are what the look-ups of its second-hand lots say: missing, due, unsure, recalled.
    """

    age_mark: int | None = None
    smallest: tuple[Decimal | None, Decimal | None, Decimal | None] = (None, None, None)
    ball: Decimal | None = None
    cord: Decimal | None = None
    loop: Decimal | None = None
    magnet: bool | None = None
    button_cell: bool | None = None
    latex: bool | None = None
    plastic_bag: bool | None = None
    old_paint: bool | None = None
    filler: str = ""
    recalls: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Finding:
    """A check that this material calls for. `is_unknown` says that nobody looked yet."""

    check: Check
    under_months: int | None
    is_unknown: bool = False

    def concerns(self, age: int | None) -> bool:
        """Whether a child of so many months is meant; None is a child of whom nothing is known."""
        return self.under_months is None or age is None or age < self.under_months


def fits_cylinder(sides: Iterable[Decimal], across: Decimal, deep: Decimal) -> bool:
    """Whether a piece with these sides may lie wholly inside the small-parts cylinder, upright or leaning in it.

    It takes the whole cylinder, not the one with a sloping floor, and the longest line in it, so that it errs towards
    saying yes. ValueError for a negative side.
    """
    a, b, c = sorted(sides)
    if a < 0:
        raise ValueError("a side cannot be negative")
    return a * a + b * b <= across * across and c * c <= across * across + deep * deep


def screen(facts: Facts, region: str) -> tuple[Finding, ...]:
    """Every check that the facts call for, whatever the ages; `Finding.concerns` picks those of a child."""
    findings = []
    for check in screening_checks():
        if region in check.regions:
            found = _find(check, facts)
            if found is None or found:
                age = facts.age_mark if check.finds == "age_mark" else check.under_months
                findings.append(Finding(check, age, is_unknown=found is None))
    return tuple(findings)


def _find(check: Check, facts: Facts) -> bool | None:
    """Whether the check is called for; None when nobody knows."""
    if check.finds == "age_mark":
        return None if facts.age_mark is None else facts.age_mark > 0
    if check.finds == "filler":
        return facts.filler in check.fillers
    if check.finds.startswith("recall"):
        return check.finds.removeprefix("recall_") in facts.recalls
    if check.finds == "small_parts":
        return _small_parts(facts.smallest, check)
    if check.finds == "small_ball":
        return None if facts.ball is None else NOTHING < facts.ball <= _given(check.across)
    if check.finds in ("cord", "loop"):
        length: Decimal | None = getattr(facts, check.finds)
        return None if length is None else length >= _given(check.length)
    seen: bool | None = getattr(facts, check.finds)
    return seen


def _small_parts(sides: Sequence[Decimal | None], check: Check) -> bool | None:
    """A side that was not measured may be ever so short; what is too large even then is settled."""
    fits = fits_cylinder((side or NOTHING for side in sides), _given(check.across), _given(check.deep))
    return None if fits and None in sides else fits


def _given(measure: Decimal | None) -> Decimal:
    assert measure is not None  # Check.__post_init__ saw to it
    return measure


@dataclass(frozen=True, slots=True)
class Presence:
    """A child expected on a weekday (0 Monday to 6 Sunday) from `start` to `end`, local time."""

    birth: date
    weekday: int
    start: time
    end: time


@dataclass(frozen=True, slots=True)
class Window:
    """Hours of a weekday."""

    weekday: int
    start: time
    end: time


def youngest_birth(presences: Iterable[Presence], weekday: int | None = None) -> date | None:
    """Birth date of the youngest child expected in the week, or on one weekday; None when there is nobody."""
    return max((each.birth for each in presences if weekday in (None, each.weekday)), default=None)


def windows_without(presences: Sequence[Presence], under_months: int, on: date) -> tuple[Window, ...]:
    """Hours in which children are expected and none of them is under `under_months` on the day `on`, in order."""
    windows: list[Window] = []
    for weekday in range(7):
        today = [each for each in presences if each.weekday == weekday]
        young = [each for each in today if age_in_months(each.birth, on) < under_months]
        edges = sorted({edge for each in today for edge in (each.start, each.end)})
        for start, end in pairwise(edges):
            if not _anybody(today, start) or _anybody(young, start):
                continue
            if windows and windows[-1].weekday == weekday and windows[-1].end == start:
                start = windows.pop().start
            windows.append(Window(weekday, start, end))
    return tuple(windows)


def _anybody(presences: Iterable[Presence], at: time) -> bool:
    return any(each.start <= at < each.end for each in presences)
