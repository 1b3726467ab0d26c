"""Money received from families."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from billing.forms.payments import PaymentFilter, PaymentForm, VoidForm
from billing.models import Payment
from billing.selectors.balances import family_balances
from billing.selectors.invoices import invoices_of, open_amount
from billing.selectors.payments import payment_facts, payments_of
from billing.services.payments import record_payment, void_payment
from billing.tables.tuition import PaymentTable
from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.models import Household
from provider.views.pages import act, show_form


@scoped(*BOOKS)
def all_payments(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    found = PaymentFilter(request.GET or None, queryset=payments_of(visit.provider), provider=visit.provider)
    table = PaymentTable(found.qs, provider=visit.provider, today=visit.today)
    RequestConfig(request, paginate={"per_page": 25}).configure(table)
    return render(request, "billing/payments/list.html", {"table": table, "filter": found})


@scoped(OWNER)
def choose_family(request: ScopedRequest) -> HttpResponse:
    """First from whom: then the form can offer that family's open invoices."""
    families = family_balances(request.visit.provider, request.visit.today)
    return render(request, "billing/payments/choose.html", {"families": families})


@scoped(OWNER)
def record(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    household = own(Household.objects.select_related("provider"), visit.provider, public_id)
    initial = {}
    if chosen := request.GET.get("invoice"):
        invoice = own(invoices_of(visit.provider).filter(household=household), visit.provider, chosen)
        initial = {"invoice": invoice.public_id, "guardian": invoice.guardian.public_id, "amount": open_amount(invoice)}
    form = PaymentForm(request.POST or None, household=household, today=visit.today, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: record_payment(**visit.writer, household=household, **form.values()),
            done=_("Payment recorded."),
            go=lambda payment: reverse("billing:payment", args=[visit.provider.slug, payment.public_id]),
        )
        if response:
            return response
    return show_form(request, "billing/payments/form.html", form, household=household)


@scoped(*BOOKS)
def payment(request: ScopedRequest, public_id: str) -> HttpResponse:
    row: Payment = own(payments_of(request.visit.provider), request.visit.provider, public_id)
    return render(request, "billing/payments/payment.html", {"facts": payment_facts(row)})


@scoped(OWNER)
def void(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    row: Payment = own(payments_of(visit.provider), visit.provider, public_id)
    form = VoidForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: void_payment(
                **visit.writer, payment=row, version=form.cleaned_data["version"] or 0, **form.values()
            ),
            done=_("Payment voided. What it had paid is open again."),
            go=lambda done: reverse("billing:payment", args=[visit.provider.slug, done.public_id]),
        )
        if response:
            return response
    return show_form(request, "billing/payments/void.html", form, facts=payment_facts(row))
