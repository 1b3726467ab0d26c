"""A month's invoices as they would be issued today, and what stands in their way."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from hashlib import sha256
from itertools import pairwise
from typing import cast

from django.db.models import Prefetch, Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from billing import tuition
from billing.models import Agreement, InvoiceLine, Payer, RatePeriod
from provider.models import Child, Closure, Enrolment, Guardian, Household, PatternDay, Provider
from provider.models.base import meets
from provider.money import ZERO, format_money
from provider.periods import ONE_DAY, DateSpan, WeekPattern, WeekSlot, scheduled_days

WHOLE = Decimal("1.0000")
WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class DraftLine:
    """One payer's part of one charge, with the words that the invoice will carry."""

    child: Child
    agreement: Agreement
    guardian: Guardian
    span: DateSpan
    description: str
    arithmetic: str
    amount: Decimal

    @property
    def identity(self) -> tuple[int | None, int, date, date | None, Decimal]:
        return (self.agreement.pk, self.guardian.pk, self.span.start, self.span.end, self.amount)


@dataclass(frozen=True, slots=True)
class DraftInvoice:
    """All that one guardian is to pay for the month, for all of the guardian's children."""

    guardian: Guardian
    lines: tuple[DraftLine, ...]

    @property
    def household(self) -> Household:
        return self.guardian.household

    @property
    def total(self) -> Decimal:
        return sum((line.amount for line in self.lines), ZERO)


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a child cannot be invoiced for (a part of) the month. `agreement` is the one to mend, None when missing."""

    enrolment: Enrolment
    text: str
    agreement: Agreement | None = None
    lacks_pattern: bool = False


@dataclass(frozen=True, slots=True)
class Differing:
    """An invoice that stands although today's records would give other lines for the child."""

    invoice_label: str
    invoice_id: str
    child: str


@dataclass(frozen=True, slots=True)
class MonthPreview:
    """What issuing would do. `issued` counts standing invoices; `unbilled` are own children and free places."""

    span: DateSpan
    drafts: tuple[DraftInvoice, ...]
    problems: tuple[Problem, ...]
    differing: tuple[Differing, ...]
    unbilled: tuple[Enrolment, ...]
    issued: int

    @property
    def total(self) -> Decimal:
        return sum((draft.total for draft in self.drafts), ZERO)

    @property
    def fingerprint(self) -> str:
        """Changes when anything that would be issued, or any problem, changes."""
        said = [
            *(f"{line.identity} {line.description} {line.arithmetic}" for draft in self.drafts for line in draft.lines),
            *(problem.text for problem in self.problems),
        ]
        return sha256("\n".join(said).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Days of an enrolment with one agreement (or none) and one weekly pattern."""

    span: DateSpan
    agreement: Agreement | None
    slots: tuple[WeekSlot, ...]

    @property
    def pattern(self) -> WeekPattern:
        return WeekPattern(self.slots)


def month_preview(provider: Provider, year: int, month: int) -> MonthPreview:
    """The month from agreements, patterns, closures and what stands, in seven queries for any number of children."""
    span = DateSpan.month(year, month)
    # A week that begins or ends in the month reaches over its edges.
    window = DateSpan(span.start - WEEK, _end(span) + WEEK)
    enrolments = _enrolments(provider, span)
    closures = _closures(provider, window)
    live = _live_lines(provider, [enrolment.child_id for enrolment in enrolments], span, window)
    problems: list[Problem] = []
    wanted: list[DraftLine] = []
    unbilled: list[Enrolment] = []
    for enrolment in enrolments:
        if enrolment.is_free_place or enrolment.child.is_own_child:
            unbilled.append(enrolment)
            continue
        stretches = _stretches(enrolment, window)
        faulty = _faulty_agreements(enrolment, span)
        problems += _gaps(enrolment, stretches, span)
        problems += faulty.values()
        for stretch in stretches:
            if stretch.agreement is not None and stretch.agreement.pk not in faulty:
                wanted += _draft_lines(enrolment.child, stretch, span, closures)
    fresh, differing = _compare(wanted, live, span)
    return MonthPreview(
        span,
        _by_guardian(fresh),
        tuple(problems),
        differing,
        tuple(unbilled),
        len({line.invoice_id for line in live if line.invoice.covers_start == span.start}),
    )


def _end(span: DateSpan) -> date:
    return span.last_day + ONE_DAY


def _enrolments(provider: Provider, span: DateSpan) -> list[Enrolment]:
    payers = Payer.objects.select_related("guardian__household").order_by("pk")
    agreements = Agreement.objects.order_by("start").prefetch_related(Prefetch("payers", payers))
    return list(
        Enrolment.objects.filter(meets(span), provider=provider)
        .select_related("child__household")
        .prefetch_related(
            Prefetch("agreements", agreements), Prefetch("pattern", PatternDay.objects.order_by("weekday", "arrives"))
        )
        .order_by("child__household__name", "child__birth_date", "child__name", "start")
    )


def _closures(provider: Provider, window: DateSpan) -> list[tuition.Closure]:
    rows = Closure.objects.filter(provider=provider, voided_at=None, start__lt=window.end, end__gt=window.start)
    return [tuition.Closure(day, row.paid) for row in rows for day in DateSpan(row.start, row.end).iter_days()]


def _live_lines(provider: Provider, children: Iterable[int], span: DateSpan, window: DateSpan) -> list[InvoiceLine]:
    """Tuition that stands: of the month's own invoices, and of others that reach into its weeks."""
    near = Q(child__in=children, covers_start__lt=window.end, covers_end__gt=window.start)
    return list(
        InvoiceLine.objects.filter(
            near | Q(invoice__covers_start=span.start), provider=provider, live=True, agreement__isnull=False
        ).select_related("invoice", "child")
    )


def _stretches(enrolment: Enrolment, window: DateSpan) -> list[_Stretch]:
    inside = DateSpan(enrolment.start, enrolment.end).intersect(window)
    if inside is None:
        return []
    agreements = list(enrolment.agreements.all())
    days = list(enrolment.pattern.all())
    ends = [(row.start, row.end) for row in agreements] + [(row.start, row.end) for row in days]
    cuts = {cut for pair in ends for cut in pair if cut is not None and cut in inside}
    edges = sorted({inside.start, _end(inside), *cuts})
    stretches: list[_Stretch] = []
    for start, end in pairwise(edges):
        agreement = next((each for each in agreements if start in DateSpan(each.start, each.end)), None)
        slots = tuple(day.slot for day in days if start in DateSpan(day.start, day.end))
        last = stretches[-1] if stretches else None
        if last and last.agreement == agreement and last.slots == slots:
            start = stretches.pop().span.start
        stretches.append(_Stretch(DateSpan(start, end), agreement, slots))
    return stretches


def _gaps(enrolment: Enrolment, stretches: Iterable[_Stretch], span: DateSpan) -> Iterator[Problem]:
    for stretch in stretches:
        part = stretch.span.intersect(span)
        if part is None:
            continue
        if stretch.agreement is None and (not stretch.slots or scheduled_days(stretch.pattern, part)):
            yield Problem(
                enrolment,
                _("%(child)s has no agreement from %(first)s to %(last)s.")
                % {"child": enrolment.child, "first": date_format(part.start), "last": date_format(part.last_day)},
            )
        elif stretch.agreement is not None and stretch.agreement.rate and not stretch.slots:
            yield Problem(
                enrolment,
                _("%(child)s has no weekly pattern from %(first)s to %(last)s, so care days cannot be counted.")
                % {"child": enrolment.child, "first": date_format(part.start), "last": date_format(part.last_day)},
                stretch.agreement,
                lacks_pattern=True,
            )


def _faulty_agreements(enrolment: Enrolment, span: DateSpan) -> dict[int, Problem]:
    """Agreements of the month whose payers do not pay the whole, by primary key."""
    faulty = {}
    for agreement in enrolment.agreements.all():
        if not agreement.rate or not DateSpan(agreement.start, agreement.end).overlaps(span):
            continue
        shares = [payer.share for payer in agreement.payers.all()]
        if not shares:
            text = _("Nobody is named to pay for %(child)s.") % {"child": enrolment.child}
        elif sum(shares) != WHOLE:
            text = _("The payers for %(child)s pay %(sum)s %% together, not 100 %%.") % {
                "child": enrolment.child,
                "sum": f"{sum(shares, Decimal(0)) * 100:.2f}",
            }
        else:
            continue
        faulty[agreement.pk] = Problem(enrolment, text, agreement)
    return faulty


def _draft_lines(
    child: Child, stretch: _Stretch, span: DateSpan, closures: list[tuition.Closure]
) -> Iterator[DraftLine]:
    agreement = stretch.agreement
    if agreement is None or not stretch.slots:
        return
    terms = tuition.Agreement(agreement.rate, cast(tuition.Period, agreement.period), stretch.pattern, stretch.span)
    shares = {payer.guardian: payer.share for payer in agreement.payers.all()}
    for line in tuition.tuition_lines(terms, span.start.year, span.start.month, closures):
        for guardian, amount in tuition.payer_shares(line.amount, shares).items():
            with override(guardian.household.language):
                yield DraftLine(
                    child,
                    agreement,
                    guardian,
                    line.span,
                    _description(child, line),
                    _arithmetic(line, shares[guardian]),
                    amount,
                )


def _description(child: Child, line: tuition.TuitionLine) -> str:
    if line.period == RatePeriod.WEEKLY:
        return _("%(child)s: week of %(day)s") % {"child": child.name, "day": date_format(line.span.start)}
    return _("%(child)s: %(month)s") % {"child": child.name, "month": date_format(line.span.start, "YEAR_MONTH_FORMAT")}


def _arithmetic(line: tuition.TuitionLine, share: Decimal) -> str:
    """`$840.00 × 8 ÷ 21 care days`, and `50 % of $320.00` for one payer of several."""
    rate = format_money(line.rate, "$")
    parts = []
    if line.prorated:
        days = ngettext("%(count)d care day", "%(count)d care days", line.scheduled) % {"count": line.scheduled}
        parts.append(f"{rate} × {line.charged} ÷ {days}")
    elif line.period == RatePeriod.WEEKLY:
        parts.append(_("%(rate)s a week") % {"rate": rate})
    else:
        parts.append(_("%(rate)s a month") % {"rate": rate})
    if share != WHOLE:
        percent = f"{share * 100:f}".rstrip("0").rstrip(".")
        parts.append(_("%(percent)s %% of %(amount)s") % {"percent": percent, "amount": format_money(line.amount, "$")})
    return "; ".join(parts)


def _compare(
    wanted: list[DraftLine], live: list[InvoiceLine], span: DateSpan
) -> tuple[list[DraftLine], tuple[Differing, ...]]:
    """What is to bill, and what stands on other terms. A day of a child that stands is never billed again."""
    by_child = defaultdict(list)
    for line in live:
        by_child[line.child_id].append(line)
    wanted_now = {draft.identity for draft in wanted}
    standing = {_identity(line) for line in live}
    differing = [line for line in live if line.invoice.covers_start == span.start and _identity(line) not in wanted_now]
    fresh = []
    for draft in wanted:
        if draft.identity in standing:
            continue
        in_the_way = [
            line
            for line in by_child[draft.child.pk]
            # Another payer's part of the same charge is wanted beside this one; anything else is the same day twice.
            if draft.span.overlaps(DateSpan(line.covers_start, line.covers_end)) and _identity(line) not in wanted_now
        ]
        differing += in_the_way
        if not in_the_way:
            fresh.append(draft)
    unique = {(line.invoice_id, line.child_id): line for line in differing}.values()
    return fresh, tuple(Differing(str(line.invoice), line.invoice.public_id, str(line.child)) for line in unique)


def _identity(line: InvoiceLine) -> tuple[int | None, int, date, date | None, Decimal]:
    return (line.agreement_id, line.guardian_id, line.covers_start, line.covers_end, line.amount)


def _by_guardian(lines: list[DraftLine]) -> tuple[DraftInvoice, ...]:
    drafts: dict[Guardian, list[DraftLine]] = {}
    for line in lines:
        drafts.setdefault(line.guardian, []).append(line)
    ordered = sorted(drafts.items(), key=lambda item: (item[0].household.name, item[0].name, item[0].pk))
    return tuple(DraftInvoice(guardian, tuple(items)) for guardian, items in ordered)
