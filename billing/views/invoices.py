"""A month's invoices: looking, issuing, printing, taking back."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django_tables2 import RequestConfig

from billing.documents.invoices import invoices_pdf
from billing.forms.invoices import CreditForm, InvoiceFilter, IssueForm
from billing.models import Invoice
from billing.selectors.invoices import InvoicePaper, invoice_papers, invoices_of
from billing.selectors.month import month_preview
from billing.services.invoices import Issued, credit_note, issue_month
from billing.tables.tuition import InvoiceTable
from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.errors import DomainError
from provider.periods import DateSpan
from provider.views.pages import act, show_form


@scoped(*BOOKS)
def all_invoices(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    found = InvoiceFilter(
        request.GET or None, queryset=invoices_of(visit.provider), provider=visit.provider, today=visit.today
    )
    table = InvoiceTable(found.qs, provider=visit.provider, today=visit.today)
    RequestConfig(request, paginate={"per_page": 25}).configure(table)
    return render(request, "billing/invoices/list.html", {"table": table, "filter": found})


@scoped(*BOOKS)
def month(request: ScopedRequest, first: date) -> HttpResponse:
    """What would be issued, checked line by line, and the one act that issues it."""
    visit = request.visit
    preview = month_preview(visit.provider, first.year, first.month)
    form = IssueForm(request.POST or None, preview=preview)
    if request.method == "POST" and form.is_valid():
        try:
            issued = issue_month(
                **visit.writer,
                year=first.year,
                month=first.month,
                expected_fingerprint=form.cleaned_data["fingerprint"],
                issue_the_rest=form.cleaned_data["issue_the_rest"],
            )
        except DomainError as error:
            form.add_domain_error(error)
            preview = month_preview(visit.provider, first.year, first.month)
            form.show_as_it_is_now(preview)
        else:
            messages.success(request, issued_words(issued))
            return HttpResponseRedirect(reverse("billing:invoice_month", args=[visit.provider.slug, first]))
    rows = invoices_of(visit.provider).filter(covers_start=first)
    return show_form(
        request,
        "billing/invoices/month.html",
        form,
        preview=preview,
        first=first,
        before=_addressable((first - timedelta(days=1)).replace(day=1)),
        after=_addressable(DateSpan.month(first.year, first.month).end),
        table=InvoiceTable(rows, provider=visit.provider, today=visit.today, orderable=False),
    )


def _addressable(first: date | None) -> date | None:
    """The month, if it has an address (see `MonthConverter`)."""
    return first if first and 2000 <= first.year < 2100 else None


def issued_words(issued: Issued) -> str:
    """What an act of issuing did, in a sentence."""
    count = len(issued.invoices)
    if not count:
        return _("Nothing was left to issue: no invoice was added.")
    words = ngettext("%(count)d invoice issued: %(first)s.", "%(count)d invoices issued: %(first)s to %(last)s.", count)
    return words % {"count": count, "first": issued.invoices[0], "last": issued.invoices[-1]}


@scoped(*BOOKS)
def month_pdf(request: ScopedRequest, first: date) -> HttpResponse:
    """All papers of the month, by number."""
    visit = request.visit
    rows = invoices_of(visit.provider).filter(covers_start=first).order_by("-series", "year", "number")
    papers = invoice_papers(rows, visit.today)
    if not papers:
        raise Http404(_("Nothing was issued for this month."))
    title = _("Invoices for %(month)s") % {"month": date_format(first, "YEAR_MONTH_FORMAT")}
    return pdf_response(papers, title, f"invoices-{first:%Y-%m}.pdf")


def pdf_response(papers: Sequence[InvoicePaper], title: str, name: str) -> HttpResponse:
    """A PDF to look at; its name holds numbers and dates, never a person."""
    response = HttpResponse(invoices_pdf(papers, title), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response


def one_paper(request: ScopedRequest, public_id: str) -> InvoicePaper:
    """The paper of one invoice within the reader's scope; 404 otherwise."""
    visit = request.visit
    rows = invoices_of(visit.provider)
    if visit.membership.household is not None:
        rows = rows.filter(household=visit.membership.household)
    row: Invoice = own(rows, visit.provider, public_id)
    (paper,) = invoice_papers(rows.filter(pk=row.pk), visit.today)
    return paper


def paper_title(paper: InvoicePaper) -> str:
    words = _("Credit note %(number)s") if paper.is_credit else _("Invoice %(number)s")
    return words % {"number": paper.invoice.label}


@scoped(*BOOKS)
def invoice(request: ScopedRequest, public_id: str) -> HttpResponse:
    paper = one_paper(request, public_id)
    return render(request, "billing/invoices/invoice.html", {"paper": paper, "title": paper_title(paper)})


@scoped(*BOOKS)
def invoice_pdf(request: ScopedRequest, public_id: str) -> HttpResponse:
    paper = one_paper(request, public_id)
    return pdf_response([paper], paper_title(paper), f"{paper.invoice.label}.pdf")


@scoped(OWNER)
def credit(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    paper = one_paper(request, public_id)
    form = CreditForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: credit_note(**visit.writer, invoice=paper.invoice, **form.values()),
            done=_("Invoice %(number)s was taken back. The month can be issued anew.") % {"number": paper.invoice},
            go=lambda note: reverse("billing:invoice", args=[visit.provider.slug, note.public_id]),
        )
        if response:
            return response
    return show_form(request, "billing/invoices/credit.html", form, paper=paper)
