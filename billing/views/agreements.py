"""Terms of each place."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from billing.forms.agreements import AgreementForm
from billing.models import Agreement
from billing.selectors.agreements import agreements_of, places
from billing.services.agreements import agree, change_agreement
from billing.tables.tuition import PlaceTable
from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.models import Enrolment
from provider.views.pages import act, show_form

PLACES = Enrolment.objects.select_related("child__household")


@scoped(*BOOKS)
def all_places(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    table = PlaceTable(places(visit.provider, visit.today), provider=visit.provider, today=visit.today)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "billing/agreements/list.html", {"table": table})


@scoped(*BOOKS)
def place(request: ScopedRequest, public_id: str) -> HttpResponse:
    enrolment = own(PLACES, request.visit.provider, public_id)
    return render(
        request, "billing/agreements/place.html", {"enrolment": enrolment, "agreements": agreements_of(enrolment)}
    )


@scoped(OWNER)
def new(request: ScopedRequest, public_id: str) -> HttpResponse:
    """A new rate from a date; who pays is taken over from the terms before."""
    visit = request.visit
    enrolment = own(PLACES, visit.provider, public_id)
    former = next(iter(agreements_of(enrolment)), None)
    form = AgreementForm(
        request.POST or None,
        household=enrolment.child.household,
        payers_of=former,
        initial={"start": None if former else enrolment.start},
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: agree(
                **visit.writer,
                enrolment=enrolment,
                submission_key=form.cleaned_data["submission_key"],
                **form.terms(),
            ),
            done=_("Agreement recorded."),
            go=lambda row: reverse("billing:place", args=[visit.provider.slug, enrolment.public_id]),
        )
        if response:
            return response
    return show_form(request, "billing/agreements/form.html", form, enrolment=enrolment)


@scoped(OWNER)
def change(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    row: Agreement = own(Agreement.objects.select_related("enrolment__child__household"), visit.provider, public_id)
    form = AgreementForm(request.POST or None, household=row.enrolment.child.household, agreement=row, payers_of=row)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: change_agreement(
                **visit.writer, agreement=row, version=form.cleaned_data["version"] or 0, **form.terms()
            ),
            done=_("Agreement changed."),
            go=lambda changed: reverse("billing:place", args=[visit.provider.slug, row.enrolment.public_id]),
        )
        if response:
            return response
    return show_form(request, "billing/agreements/form.html", form, enrolment=row.enrolment, agreement=row)
