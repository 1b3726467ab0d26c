"""Hours of a month and of a year: with children, and worked around them. Overlaps are merged, never counted twice."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.hours import Interval, hours, instants, merge, minutes, minutes_by_date, total_hours
from provider.models import Attendance, Provider, User, WorkEntry, WorkKind, WorkTimer
from provider.periods import DateSpan
from provider.selectors.attendance import stay_intervals

IN_HOME = Q(at_home=True) & ~Q(kind=WorkKind.SHOP)
"""Work that enters the time share of the home; the same as `is_at_home`."""


def is_at_home(kind: str, at_home: bool) -> bool:
    """Where work counts: shopping is always away, whatever was ticked, so that it never enters the home's share."""
    return at_home and kind != WorkKind.SHOP


def running_timer(provider: Provider, user: User) -> WorkTimer | None:
    """The timer that the user has started, if any. One query."""
    return WorkTimer.objects.filter(provider=provider, user=user).first()


@dataclass(frozen=True, slots=True)
class KindTotal:
    """Hours of one kind of work."""

    label: str
    hours: Decimal


@dataclass(frozen=True, slots=True)
class WorkMonth:
    """Hours with two decimals.

    `with_children` merges all stays; `around` is what work in the home adds to it; `in_home` is both merged, which is
    what enters the time share; `away` is work elsewhere. `kinds` count each kind by itself, at home and away.
    """

    span: DateSpan
    entries: tuple[WorkEntry, ...]
    kinds: tuple[KindTotal, ...]
    with_children: Decimal
    around: Decimal
    in_home: Decimal
    away: Decimal


def work_month(provider: Provider, span: DateSpan) -> WorkMonth:
    """Work that began, and stays whose day lies, in a closed span. Two queries."""
    begin, end = instants(span, provider.zone)
    entries = tuple(
        WorkEntry.objects.filter(
            provider=provider,
            voided_at__isnull=True,
            started_at__gte=begin,
            started_at__lt=end,
        ).order_by("-started_at")
    )
    stays = stay_intervals(provider, span)
    at_home = [(each.started_at, each.ended_at) for each in entries if is_at_home(each.kind, each.at_home)]
    with_children, in_home = minutes(stays), minutes([*stays, *at_home])
    return WorkMonth(
        span,
        entries,
        tuple(
            KindTotal(
                str(WorkKind(kind).label),
                total_hours((each.started_at, each.ended_at) for each in entries if each.kind == kind),
            )
            for kind in WorkKind
            if any(each.kind == kind for each in entries)
        ),
        hours(with_children),
        hours(in_home - with_children),
        hours(in_home),
        total_hours((each.started_at, each.ended_at) for each in entries if not is_at_home(each.kind, each.at_home)),
    )


@dataclass(frozen=True, slots=True)
class KindHours:
    """Hours of one kind of work in the home, merged within the kind."""

    kind: WorkKind
    hours: Decimal


@dataclass(frozen=True, slots=True)
class HoursLine:
    """A month, or with `first` None the whole year. Hours with two decimals.

    `care`: a child was here. `kinds`: each kind of work in the home by itself, so that they may overlap with each other
    and with `care`. `in_home` merges all of them: every minute once, whoever worked. `away` is merged work elsewhere.
    """

    first: date | None
    care: Decimal
    kinds: tuple[KindHours, ...]
    in_home: Decimal
    away: Decimal

    @property
    def name(self) -> str:
        """The month's name, or `Year`."""
        return date_format(self.first, "F") if self.first else _("Year")

    @property
    def around(self) -> Decimal:
        """What work in the home adds to the time with children."""
        return self.in_home - self.care


@dataclass(frozen=True, slots=True)
class WorkYear:
    """The twelve months of a year and their sum, rounded once on its own minutes. `kinds`: those that occur."""

    year: int
    kinds: tuple[WorkKind, ...]
    months: tuple[HoursLine, ...]
    total: HoursLine


def work_year(provider: Provider, year: int) -> WorkYear:
    """Stays and work cut at the local midnights of the year; open stays are left out. Two queries."""
    zone, span = provider.zone, DateSpan.year(year)
    begin, end = instants(span, zone)
    stays = Attendance.objects.filter(
        provider=provider,
        voided_at__isnull=True,
        child__is_own_child=False,
        arrived_at__lt=end,
        left_at__gt=begin,
    ).values_list("arrived_at", "left_at")
    entries = list(
        WorkEntry.objects.filter(provider=provider, voided_at__isnull=True, started_at__lt=end, ended_at__gt=begin)
    )

    def by_month(intervals: Iterable[Interval]) -> Counter[int]:
        """Minutes by month, and under 0 of the whole year."""
        inside = ((max(begin, start), min(end, stop)) for start, stop in intervals)
        found: Counter[int] = Counter()
        for day, spent in minutes_by_date(inside, zone).items():
            found[day.month] += spent
            found[0] += spent
        return found

    care_intervals = merge((start, stop) for start, stop in stays if start and stop)
    home = [each for each in entries if is_at_home(each.kind, each.at_home)]
    kinds = tuple(kind for kind in WorkKind if any(each.kind == kind for each in home))
    care = by_month(care_intervals)
    of_kind = {kind: by_month(_times(each for each in home if each.kind == kind)) for kind in kinds}
    in_home = by_month([*care_intervals, *_times(home)])
    away = by_month(_times(each for each in entries if not is_at_home(each.kind, each.at_home)))

    def line(month: int) -> HoursLine:
        return HoursLine(
            date(year, month, 1) if month else None,
            hours(care[month]),
            tuple(KindHours(kind, hours(of_kind[kind][month])) for kind in kinds),
            hours(in_home[month]),
            hours(away[month]),
        )

    return WorkYear(year, kinds, tuple(line(month) for month in range(1, 13)), line(0))


def _times(entries: Iterable[WorkEntry]) -> list[Interval]:
    return [(each.started_at, each.ended_at) for each in entries]
