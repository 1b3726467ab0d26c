"""Frameworks of what children learn: domains, sub-domains and goals, from `rules/skills/`. Ages in whole months.

Goal titles are short and in our own words; the number is the framework's own. A framework of which only names may be
shipped has domains without goals: there the domain itself is the goal.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

from provider.rule_files import RuleFileError, build, check_once, read_file

RULES = Path(__file__).parent / "rules" / "skills"
OWN = "own"
Checked = Literal["published", "second_hand", "memory"]
HEAD = {"code", "name", "edition", "publisher", "regions", "source", "licence", "checked"}


@dataclass(frozen=True, slots=True)
class Goal:
    """One goal, for ages [from_months, to_months); `to_months=None` is open. `checked` is how it was looked up."""

    code: str
    title: str
    from_months: int = 0
    to_months: int | None = None
    checked: Checked = "published"

    def __post_init__(self) -> None:
        if len(self.code) > 40 or self.from_months < 0 or (self.to_months or 999) <= self.from_months:
            raise ValueError("a code has at most 40 characters, and ages run upwards")


@dataclass(frozen=True, slots=True)
class Subdomain:
    code: str
    name: str
    domain: str
    goals: tuple[Goal, ...]


@dataclass(frozen=True, slots=True)
class Domain:
    """`subdomains` hold all its goals; one without a name of its own stands for the domain itself."""

    code: str
    name: str
    subdomains: tuple[Subdomain, ...] = ()

    @property
    def goals(self) -> tuple[Goal, ...]:
        return tuple(goal for each in self.subdomains for goal in each.goals)


@dataclass(frozen=True, slots=True)
class Framework:
    """A published framework, or the owner's own goals (`code` is `own`). `regions` are those it was written for."""

    code: str
    name: str
    edition: str
    publisher: str
    regions: tuple[str, ...]
    source: str
    licence: str
    checked: Checked
    domains: tuple[Domain, ...] = ()

    @property
    def title(self) -> str:
        return f"{self.name} ({self.edition})" if self.edition else self.name

    @property
    def names_only(self) -> bool:
        return not any(part.name for domain in self.domains for part in domain.subdomains[:1])

    @property
    def goals(self) -> tuple[Goal, ...]:
        return tuple(goal for domain in self.domains for goal in domain.goals)


@dataclass(frozen=True, slots=True)
class Own:
    """A goal in the owner's words. `domain` is a domain code of a framework, or her own word."""

    code: str
    domain: str
    title: str


@cache
def frameworks() -> tuple[Framework, ...]:
    """All frameworks of the files, by file name. Raises RuleFileError."""
    found = tuple(_read(path) for path in sorted(RULES.glob("*.toml")))
    check_once(RULES, "frameworks", [each.code for each in found])
    check_once(RULES, "goals", [goal.code for each in found for goal in each.goals])
    check_once(RULES, "domains", [domain.code for each in found for domain in each.domains])
    return found


@cache
def _goals() -> dict[str, Goal]:
    return {goal.code: goal for each in frameworks() for goal in each.goals}


def goal(code: str) -> Goal:
    """The goal of a framework with this code. Raises KeyError."""
    return _goals()[code]


def with_own(own: Iterable[Own], region: str, *, word: str) -> tuple[Framework, ...]:
    """The frameworks with the owner's goals among them, those written for `region` (`US-WI`) first.

    A goal whose domain is one of a framework joins that domain; the others make a framework called `word`.
    """
    rows = list(own)
    joined = [_join(each, rows, word) for each in frameworks()]
    known = {domain.code for each in joined for domain in each.domains}
    loose = [row for row in rows if row.domain not in known]
    if loose:
        joined.append(_own_framework(loose, word))
    return tuple(sorted(joined, key=lambda each: not _is_for(each, region)))


def _is_for(framework: Framework, region: str) -> bool:
    return framework.code == OWN or any(region == each or region.startswith(f"{each}-") for each in framework.regions)


def _join(framework: Framework, rows: list[Own], word: str) -> Framework:
    domains = []
    for domain in framework.domains:
        goals = tuple(Goal(row.code, row.title) for row in rows if row.domain == domain.code)
        more = (Subdomain(f"{domain.code} {OWN}", word, domain.code, goals),) if goals else ()
        domains.append(replace(domain, subdomains=(*domain.subdomains, *more)))
    return replace(framework, domains=tuple(domains))


def _own_framework(rows: list[Own], word: str) -> Framework:
    domains = []
    for name in dict.fromkeys(row.domain for row in rows):
        goals = tuple(Goal(row.code, row.title) for row in rows if row.domain == name)
        domains.append(Domain(name, name, (Subdomain(name, "", name, goals),)))
    return Framework(OWN, word, "", "", (), "", "", "published", tuple(domains))


def _read(path: Path) -> Framework:
    content = read_file(path, {*HEAD, "domain"}, {"subdomain"})
    parts = [build(path, raw, Subdomain) for raw in content.get("subdomain", ())]
    domains = [build(path, raw, Domain) for raw in content["domain"]]
    if strangers := {part.domain for part in parts} - {domain.code for domain in domains}:
        raise RuleFileError(f"{path.name}: sub-domains of unknown domains: {sorted(strangers)}")
    if empty := [part.code for part in parts if not part.goals]:
        raise RuleFileError(f"{path.name}: no goals in {empty}")
    head = build(path, {key: content[key] for key in HEAD}, Framework)
    return replace(head, domains=tuple(_filled(domain, parts, head.checked) for domain in domains))


def _filled(domain: Domain, parts: list[Subdomain], checked: Checked) -> Domain:
    """The domain with its sub-domains; without any it is a goal itself."""
    mine = tuple(part for part in parts if part.domain == domain.code)
    itself = Goal(domain.code, domain.name, checked=checked)
    return replace(domain, subdomains=mine or (Subdomain(domain.code, "", domain.code, (itself,)),))
