"""Until when a record must be kept: the rules of the place, read from `rules/retention.toml`.

Nothing is deleted before the date, and the longest rule that fits a record counts. Where no rule of the place is known
a cautious one of ours stands in and says so. The licensor decides.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Literal

from provider.periods import years_after
from provider.rule_files import RuleFileError, build, check_once, read_file

Record = Literal["attendance", "incident", "medicine", "child_file", "meals", "safety", "money"]
CountsFrom = Literal["record", "care_end", "food_year", "tax_year"]
FILE = Path(__file__).parent / "rules" / "retention.toml"


@dataclass(frozen=True, slots=True)
class KeepRule:
    """Keep `records` for `years` counted from `counts_from`. No `country`: everywhere; no `region`: all of the country.

    `source` is the text it stands in, `status` how that was read (`cautious`: our own choice), `checked_on` when.
    """

    code: str
    records: tuple[Record, ...]
    years: int
    counts_from: CountsFrom
    source: str
    status: Literal["published", "second_hand", "memory", "cautious"]
    checked_on: date
    country: str | None = None
    region: str | None = None

    def __post_init__(self) -> None:
        if self.years < 1:
            raise ValueError("a record is kept for at least a year")

    def is_for(self, country: str, region: str) -> bool:
        return self.country in (None, country) and self.region in (None, region)

    def until(self, last: date, care_end: date) -> date:
        """The first day on which the record need not be kept, from its own day and the day care ended."""
        start = {
            "record": last,
            "care_end": max(last, care_end),
            # The year ends in September, and its final claim must be in 60 days later.
            "food_year": date(last.year + (last.month >= 10), 12, 1),
            "tax_year": date(last.year + 1, 1, 1),
        }[self.counts_from]
        return years_after(start, self.years)


@dataclass(frozen=True, slots=True)
class Keep:
    """The date with the rule that gave it; `rule` None when no rule asks for the record at all."""

    until: date | None
    rule: KeepRule | None


def keep_until(record: Record, country: str, region: str, *, last: date, care_end: date) -> Keep:
    """The latest date that a rule asks for. `last` is the day of the newest record of the kind."""
    known, cautious = load()
    rules = [rule for rule in known if record in rule.records and rule.is_for(country, region)]
    if not any(rule.region for rule in rules):
        rules += [rule for rule in cautious if record in rule.records]
    if not rules:
        return Keep(None, None)
    rule = max(rules, key=lambda each: each.until(last, care_end))
    return Keep(rule.until(last, care_end), rule)


@cache
def load(path: Path = FILE) -> tuple[tuple[KeepRule, ...], tuple[KeepRule, ...]]:
    """The known and the cautious rules of the file. Raises RuleFileError."""
    content = read_file(path, {"rules", "cautious"})
    known, cautious = ([build(path, raw, KeepRule) for raw in content[part]] for part in ("rules", "cautious"))
    check_once(path, "rules", [rule.code for rule in (*known, *cautious)])
    if any(rule.country is None for rule in known):
        raise RuleFileError(f"{path.name}: a rule says of which country it is")
    return tuple(known), tuple(cautious)
