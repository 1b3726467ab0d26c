"""How long a menu is kept: by the rule for menus of the place, and by those for its records of meals.

Our own cautious period for records of meals stands in only where neither is known.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Literal

from provider import retention
from provider.rule_files import build, check_once, read_file

FILE = Path(__file__).parent / "rules" / "menus.toml"


@dataclass(frozen=True, slots=True)
class MenuRule:
    """Keep a menu for `days` after the last day it is for."""

    code: str
    country: str
    region: str
    days: int
    source: str
    status: Literal["published", "second_hand", "memory"]
    checked_on: date


@dataclass(frozen=True, slots=True)
class KeepMenu:
    """The first day on which a menu need not be kept, and the text that says so. `is_published`: it was read there."""

    until: date
    source: str
    is_published: bool


def keep_menu(country: str, region: str, last: date) -> KeepMenu | None:
    """For a menu whose last day is `last`; the latest of all rules. None where no rule is known."""
    found = [
        KeepMenu(last + timedelta(days=rule.days + 1), rule.source, rule.status == "published")
        for rule in load()
        if (rule.country, rule.region) == (country, region)
    ]
    known, cautious = retention.load()
    for rules in (known, cautious):
        asked = [rule for rule in rules if "meals" in rule.records and rule.is_for(country, region)]
        if rules is known or not found:
            found += [KeepMenu(rule.until(last, last), rule.source, rule.status == "published") for rule in asked]
    return max(found, key=lambda each: each.until, default=None)


@cache
def load(path: Path = FILE) -> tuple[MenuRule, ...]:
    """Raises RuleFileError."""
    rules = tuple(build(path, raw, MenuRule) for raw in read_file(path, {"rules"})["rules"])
    check_once(path, "rules", [rule.code for rule in rules])
    return rules
