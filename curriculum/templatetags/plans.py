"""What a plan practises, in words and bars."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import template
from django.utils.text import Truncator

from curriculum.planning import Coverage, Line, Tally
from curriculum.selectors.plans import CentrePlan
from curriculum.skills import Domain
from provider.templatetags.frame import Bar

register = template.Library()


@register.filter
def tally_words(tally: Tally) -> str:
    """`3 (1)` for three times, once as the main thing; a dash for never."""
    if not tally.total:
        return "–"
    return f"{tally.total} ({tally.main})" if tally.main else str(tally.total)


@register.filter
def domain_bars(lines: Iterable[Line]) -> list[Bar]:
    """A domain with its main and other goals; a long name is cut, for it stands in full in the table below."""
    return [
        Bar(Truncator(line.domain.name).chars(36), Decimal(line.total.total), tally_words(line.total)) for line in lines
    ]


@register.filter
def sheet_size(plan: Sequence[CentrePlan]) -> str:
    """How large the letters of the wall sheet are, so that a full plan still is one page."""
    entries = sum(1 + len(each.activities) * 2 + len(each.needs) for each in plan)
    return next((size for most, size in ((24, "large"), (44, "medium")) if entries <= most), "small")


@register.filter
def gaps_by_domain(coverage: Coverage) -> list[tuple[Domain, list[str]]]:
    """The parts that nothing practises, domain by domain."""
    gaps: dict[str, tuple[Domain, list[str]]] = {}
    for line in coverage.gaps:
        assert line.subdomain is not None  # gaps are sub-domains
        gaps.setdefault(line.domain.code, (line.domain, []))[1].append(line.subdomain.name or line.domain.name)
    return list(gaps.values())


@register.filter
def beside(heads: Sequence[Any], values: Sequence[Any]) -> list[tuple[Any, Any]]:
    """Each head with its value."""
    return list(zip(heads, values, strict=True))
