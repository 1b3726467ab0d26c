"""Hours of a month: with children, and worked around them. Overlaps are merged, never counted twice."""

from dataclasses import dataclass
from datetime import datetime, time
from decimal import Decimal

from provider.hours import hours, minutes, total_hours
from provider.models import Provider, WorkEntry, WorkKind
from provider.periods import ONE_DAY, DateSpan
from provider.selectors.attendance import stay_intervals


@dataclass(frozen=True, slots=True)
class KindTotal:
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
    zone = provider.zone
    entries = tuple(
        WorkEntry.objects.filter(
            provider=provider,
            voided_at__isnull=True,
            started_at__gte=datetime.combine(span.start, time.min, zone),
            started_at__lt=datetime.combine(span.last_day + ONE_DAY, time.min, zone),
        ).order_by("-started_at")
    )
    stays = stay_intervals(provider, span)
    at_home = [(each.started_at, each.ended_at) for each in entries if each.at_home]
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
        total_hours((each.started_at, each.ended_at) for each in entries if not each.at_home),
    )
