"""When a thing is to be cleaned, and how often things of its kind usually are (`rules/cleaning.toml`)."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Literal

from provider.rule_files import build, check_once, read_file

RULES = Path(__file__).parent / "rules" / "cleaning.toml"


@dataclass(frozen=True, slots=True)
class Suggestion:
    """How things of a kind are cleaned; `every_days` 0 means after each use."""

    code: str
    act: Literal["clean", "sanitise", "disinfect", "launder"]
    every_days: int
    source: str
    checked: Literal["published", "second_hand", "memory"]


@cache
def suggestions() -> dict[str, Suggestion]:
    """The suggestions by code, in the order of the file. Raises RuleFileError."""
    found = [build(RULES, raw, Suggestion) for raw in read_file(RULES, {"suggestion"})["suggestion"]]
    check_once(RULES, "suggestion", [each.code for each in found])
    return {each.code: each for each in found}


def due_on(every_days: int, *, since: date, last_done: date | None, last_used: date | None) -> date | None:
    """The day from which a thing is to be cleaned; None when nothing asks for it.

    `since` is the day the routine began: what was never cleaned is due then. `last_used` is when it last came back
    unwashed, for a thing that is cleaned after each use. ValueError for negative days.
    """
    if every_days < 0:
        raise ValueError("the days between two cleanings cannot be negative")
    if every_days:
        return since if last_done is None else last_done + timedelta(days=every_days)
    return last_used if last_used and (last_done is None or last_used > last_done) else None
