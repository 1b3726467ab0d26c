"""What a plan practises: main and other goals by domain and place, and what it leaves out. Ages in whole months."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from curriculum.skills import Domain, Framework, Goal, Subdomain


@dataclass(frozen=True, slots=True)
class Ages:
    """The months of age that a child goes through in a time, both ends included."""

    youngest: int
    oldest: int

    def meets(self, goal: Goal) -> bool:
        return goal.from_months <= self.oldest and (goal.to_months is None or self.youngest < goal.to_months)


@dataclass(frozen=True, slots=True)
class Practised:
    """An activity practises a goal in a column: a centre, or a month."""

    column: int
    goal: str
    is_main: bool = False


@dataclass(frozen=True, slots=True)
class Tally:
    """How often something is practised, as the main thing and beside another."""

    main: int = 0
    other: int = 0

    @property
    def total(self) -> int:
        return self.main + self.other

    def __add__(self, more: "Tally") -> "Tally":
        return Tally(self.main + more.main, self.other + more.other)


@dataclass(frozen=True, slots=True)
class Line:
    """One sub-domain, or a whole domain (`subdomain` is None): a tally for each column, in their order."""

    domain: Domain
    subdomain: Subdomain | None
    tallies: tuple[Tally, ...]

    @property
    def total(self) -> Tally:
        return sum(self.tallies, Tally())


@dataclass(frozen=True, slots=True)
class Coverage:
    """`gaps` are sub-domains that nothing practises; `missing` the goals in them and elsewhere that nothing practises.

    Only goals for the ages given count, and sub-domains that have any.
    """

    framework: Framework
    columns: tuple[int, ...]
    domains: tuple[Line, ...]
    subdomains: tuple[Line, ...]
    missing: tuple[Goal, ...]

    @property
    def gaps(self) -> tuple[Line, ...]:
        return tuple(line for line in self.subdomains if not line.total.total)

    @property
    def empty_columns(self) -> tuple[int, ...]:
        """Columns in which nothing of this framework is practised."""
        sums = [sum((line.tallies[place].total for line in self.domains), 0) for place in range(len(self.columns))]
        return tuple(column for column, total in zip(self.columns, sums, strict=True) if not total)


def goals_for(goals: Iterable[Goal], ages: Collection[Ages]) -> tuple[Goal, ...]:
    """The goals meant for any of the ages; all of them when no age is known."""
    return tuple(goal for goal in goals if not ages or any(each.meets(goal) for each in ages))


def coverage(
    framework: Framework, columns: Sequence[int], practised: Iterable[Practised], ages: Collection[Ages]
) -> Coverage:
    """Count what is practised in each column; what is practised in no column named does not count."""
    wanted = {goal.code: goal for goal in goals_for(framework.goals, ages)}
    counts = Counter(practised)
    seen = {each.goal for each in counts if each.column in columns}
    domains, subdomains = [], []
    for domain in framework.domains:
        lines = []
        for part in domain.subdomains:
            codes = [goal.code for goal in part.goals if goal.code in wanted]
            if codes:
                lines.append(Line(domain, part, tuple(_tally(counts, column, codes) for column in columns)))
        if lines:
            sums = (sum(of_column, Tally()) for of_column in zip(*(line.tallies for line in lines), strict=True))
            domains.append(Line(domain, None, tuple(sums)))
            subdomains += lines
    missing = tuple(goal for code, goal in wanted.items() if code not in seen)
    return Coverage(framework, tuple(columns), tuple(domains), tuple(subdomains), missing)


def _tally(counts: Counter[Practised], column: int, codes: Iterable[str]) -> Tally:
    codes = list(codes)
    return Tally(
        sum(counts[Practised(column, code, is_main=True)] for code in codes),
        sum(counts[Practised(column, code)] for code in codes),
    )
