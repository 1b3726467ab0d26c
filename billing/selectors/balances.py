"""Who owes what: balances of families and the statement of one."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Sum
from django.urls import reverse
from django.utils.translation import gettext as _

from billing.models import Invoice, Payment, Series
from billing.selectors.agreements import Place, places
from billing.selectors.invoices import open_amount, standing_invoices
from billing.selectors.month import month_preview
from billing.statement import Entry, Statement, balance, statement
from provider.models import Household, Provider
from provider.money import ZERO
from provider.periods import DateSpan


@dataclass(frozen=True, slots=True)
class FamilyBalance:
    """One family's account today. `balance` below zero is credit on account; `overdue` is open past its due date."""

    household: Household
    invoiced: Decimal
    received: Decimal
    overdue: Decimal
    oldest_due: date | None

    @property
    def balance(self) -> Decimal:
        return balance([self.invoiced], [self.received])

    @property
    def name(self) -> str:
        return self.household.name


def family_balances(provider: Provider, today: date) -> list[FamilyBalance]:
    """Every family, who owes most first, in four queries."""
    invoiced = _sums(Invoice.objects.filter(provider=provider).values_list("household").annotate(Sum("total")))
    received = _sums(
        Payment.objects.filter(provider=provider, voided_at=None).values_list("household").annotate(Sum("amount"))
    )
    overdue: dict[int, Decimal] = {}
    oldest: dict[int, date] = {}
    for invoice in standing_invoices(provider):
        due = open_amount(invoice)
        if due:
            oldest.setdefault(invoice.household_id, invoice.due_on)
            if invoice.due_on < today:
                overdue[invoice.household_id] = overdue.get(invoice.household_id, ZERO) + due
    rows = [
        FamilyBalance(
            household,
            invoiced.get(household.pk, ZERO),
            received.get(household.pk, ZERO),
            overdue.get(household.pk, ZERO),
            oldest.get(household.pk),
        )
        for household in Household.objects.filter(provider=provider).order_by("name")
    ]
    return sorted(rows, key=lambda row: -row.balance)


def _sums(pairs: object) -> dict[int, Decimal]:
    return dict(pairs)  # type: ignore[call-overload]


def family_statement(household: Household, span: DateSpan, view: str = "billing:invoice") -> Statement:
    """The family's account over a span, in two queries. `view` is the page that an invoice is linked to."""
    slug = household.provider.slug
    entries = [
        Entry(
            invoice.issued_on,
            (_("Credit note %(number)s") if invoice.series == Series.CREDIT else _("Invoice %(number)s"))
            % {"number": invoice},
            charged=invoice.total,
            url=reverse(view, args=[slug, invoice.public_id]),
        )
        for invoice in Invoice.objects.filter(household=household).order_by("issued_on", "pk")
    ]
    entries += [
        Entry(
            payment.on,
            _("Payment, %(method)s") % {"method": payment.get_method_display()},
            received=payment.amount,
        )
        for payment in Payment.objects.filter(household=household, voided_at=None).order_by("on", "pk")
    ]
    return statement(entries, span)


@dataclass(frozen=True, slots=True)
class FamilyAccount:
    """What a family itself sees: its statement of the year so far and what is due."""

    statement: Statement
    open: Decimal
    oldest_due: date | None

    @property
    def balance(self) -> Decimal:
        return self.statement.closing


def family_account(household: Household, today: date) -> FamilyAccount:
    """The year so far, linked to the family's own pages. Three queries."""
    due = [row for row in standing_invoices(household.provider).filter(household=household) if open_amount(row)]
    return FamilyAccount(
        family_statement(household, DateSpan.year(today.year), "billing:family_paper"),
        sum((open_amount(row) for row in due), ZERO),
        due[0].due_on if due else None,
    )


@dataclass(frozen=True, slots=True)
class MonthMoney:
    """A month's state. `invoiced` is what was charged for it less what was taken back (earned); `received` is the money
    that came in during it, for whatever month; `to_issue` counts invoices not issued yet."""

    first: date
    to_issue: int
    problems: int
    issued: int
    invoiced: Decimal
    received: Decimal
    open: Decimal


@dataclass(frozen=True, slots=True)
class MoneyOverview:
    """The Money door: this month and the next, what is outstanding, and places without terms."""

    months: tuple[MonthMoney, ...]
    outstanding: Decimal
    overdue: Decimal
    late_families: int
    credit: Decimal
    without_agreement: tuple[Place, ...]


def month_money(provider: Provider, span: DateSpan) -> MonthMoney:
    """A month's invoices, what they came to, and the money received in it whatever it was for."""
    preview = month_preview(provider, span.start.year, span.start.month)
    invoiced = Invoice.objects.filter(provider=provider, covers_start=span.start).aggregate(sum=Sum("total"))["sum"]
    received = Payment.objects.filter(provider=provider, voided_at=None, on__gte=span.start, on__lt=span.end).aggregate(
        sum=Sum("amount")
    )["sum"]
    standing = list(standing_invoices(provider).filter(covers_start=span.start))
    return MonthMoney(
        span.start,
        len(preview.drafts),
        len(preview.problems),
        len(standing),
        invoiced or ZERO,
        received or ZERO,
        sum((open_amount(invoice) for invoice in standing), ZERO),
    )


def money_overview(provider: Provider, today: date) -> MoneyOverview:
    """Queries do not grow with families or invoices."""
    this_month = DateSpan.month(today.year, today.month)
    following = this_month.end
    months = [month_money(provider, this_month)]
    if following is not None:
        months.append(month_money(provider, DateSpan.month(following.year, following.month)))
    families = family_balances(provider, today)
    return MoneyOverview(
        tuple(months),
        sum((family.balance for family in families if family.balance > 0), ZERO),
        sum((family.overdue for family in families), ZERO),
        sum(1 for family in families if family.overdue),
        -sum((family.balance for family in families if family.balance < 0), ZERO),
        tuple(place for place in places(provider, today) if place.agreement is None),
    )
