"""What a family sees: its own invoices, payments and balance."""

from django.http import HttpResponse
from django.shortcuts import render
from django_tables2 import RequestConfig

from billing.selectors.balances import family_account
from billing.selectors.invoices import invoices_of
from billing.tables.tuition import PaperTable
from billing.views.invoices import one_paper, paper_title, pdf_response
from provider.access import FAMILY, ScopedRequest, scoped


@scoped(FAMILY, write=())
def papers(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    household = visit.membership.household
    assert household is not None  # a constraint says so of every family member
    table = PaperTable(
        invoices_of(visit.provider).filter(household=household),
        provider=visit.provider,
        today=visit.today,
        exclude=("payer_name",),
    )
    RequestConfig(request, paginate={"per_page": 25}).configure(table)
    account = family_account(household, visit.today)
    return render(request, "billing/papers/papers.html", {"table": table, "household": household, "account": account})


@scoped(FAMILY, write=())
def paper(request: ScopedRequest, public_id: str) -> HttpResponse:
    found = one_paper(request, public_id)
    return render(request, "billing/papers/paper.html", {"paper": found, "title": paper_title(found)})


@scoped(FAMILY, write=())
def paper_pdf(request: ScopedRequest, public_id: str) -> HttpResponse:
    found = one_paper(request, public_id)
    return pdf_response([found], paper_title(found), f"{found.invoice.label}.pdf")
