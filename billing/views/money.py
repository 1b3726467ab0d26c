"""The Money door: the month at a glance, who owes what, and the account of one family."""

from django.http import HttpResponse
from django.shortcuts import render
from django_tables2 import RequestConfig

from billing.selectors.balances import family_balances, family_statement, money_overview
from billing.tables.tuition import BalanceTable
from provider.access import BOOKS, ScopedRequest, own, scoped
from provider.models import Household
from provider.periods import DateSpan


@scoped(*BOOKS)
def overview(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    return render(request, "billing/money/overview.html", {"overview": money_overview(visit.provider, visit.today)})


@scoped(*BOOKS)
def balances(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    table = BalanceTable(family_balances(visit.provider, visit.today), provider=visit.provider, today=visit.today)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "billing/money/balances.html", {"table": table})


@scoped(*BOOKS)
def account(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    household = own(Household.objects.select_related("provider"), visit.provider, public_id)
    asked = request.GET.get("year", "")
    year = int(asked) if asked.isdecimal() and len(asked) < 6 else visit.today.year
    year = min(max(year, 2000), visit.today.year)
    return render(
        request,
        "billing/money/statement.html",
        {
            "household": household,
            "statement": family_statement(household, DateSpan.year(year)),
            "year": year,
            "later": year + 1 if year < visit.today.year else None,
        },
    )
