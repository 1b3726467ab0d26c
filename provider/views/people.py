"""A child's page and what is kept on it; the emergency card and the posted list on paper."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.documents import page_pdf
from provider.doors import facts_of_guardians
from provider.forms.attendance import ReasonForm
from provider.forms.base import DeskForm
from provider.forms.people import CareNeedForm, CollectorForm, ContactForm
from provider.models import CareNeed, Child, Collector, EmergencyContact
from provider.selectors.people import child_record, contacts_of, posted_list
from provider.services import people as services
from provider.views.pages import act, pdf_response, show_form


@dataclass(frozen=True, slots=True)
class Kind:
    """What the pages of one kind of row need. `first` gives the initial values of a new one."""

    model: type[Any]
    form: type[DeskForm]
    title: Any
    submit: Any
    first: Callable[[ScopedRequest, Child], dict[str, Any]]


KINDS = {
    "contact": Kind(
        EmergencyContact,
        ContactForm,
        gettext_lazy("Somebody to call for %(child)s"),
        gettext_lazy("Save the contact"),
        lambda _request, child: {"position": contacts_of(child).count() + 1},
    ),
    "collector": Kind(
        Collector,
        CollectorForm,
        gettext_lazy("Somebody who may collect %(child)s"),
        gettext_lazy("Save"),
        lambda request, _child: {"start": request.visit.today},
    ),
    "need": Kind(
        CareNeed,
        CareNeedForm,
        gettext_lazy("What %(child)s needs"),
        gettext_lazy("Save the need"),
        lambda request, _child: {"start": request.visit.today, "posted": True},
    ),
}


@scoped(*STAFF)
def child(request: ScopedRequest, child: str) -> HttpResponse:
    visit = request.visit
    record = child_record(own(CHILDREN, visit.provider, child), visit.today)
    facts = facts_of_guardians(record.family.household, visit.role, visit.today)
    context = {
        "record": record,
        "page": record.page,
        "guardians": [(each, facts.get(each.pk, [])) for each in record.family.guardians],
        "may_write": visit.may_write,
    }
    return render(request, "provider/people/child.html", context)


@scoped(OWNER)
def beside_add(request: ScopedRequest, child: str, kind: str) -> HttpResponse:
    row, what = own(CHILDREN, request.visit.provider, child), KINDS[kind]
    form = what.form(request.POST or None, initial=what.first(request, row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_beside(**request.visit.writer, child=row, model=what.model, **form.values()),
            done=_("Saved."),
            go=lambda _saved: child_url(request, row),
        )
        if response:
            return response
    return _page(request, form, what.title % {"child": row}, what.submit, row)


@scoped(OWNER)
def beside_change(request: ScopedRequest, row: str, kind: str) -> HttpResponse:
    what = KINDS[kind]
    found = _own_beside(request, what, row)
    form = what.form(request.POST or None, initial=what.form.of(found))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_beside(
                **request.visit.writer, row=found, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda _saved: child_url(request, found.child),
        )
        if response:
            return response
    void = (reverse(f"provider:{kind}_void", args=[request.visit.provider.slug, found.public_id]), _("Take it out"))
    return _page(request, form, what.title % {"child": found.child}, what.submit, found.child, void=void)


@scoped(OWNER)
def beside_void(request: ScopedRequest, row: str, kind: str) -> HttpResponse:
    found = _own_beside(request, KINDS[kind], row)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_beside(**request.visit.writer, row=found, **form.values()),
            done=_("Taken out."),
            go=lambda _saved: child_url(request, found.child),
        )
        if response:
            return response
    title = _("Take out “%(row)s”?") % {"row": found}
    lead = _("For what was entered by mistake. What has ended gets a last day instead.")
    return _page(request, form, title, _("Take it out"), found.child, lead=lead, danger=True)


@scoped(*STAFF, write=())
def child_card(request: ScopedRequest, child: str) -> HttpResponse:
    """The emergency card, half a letter page, to take along."""
    visit = request.visit
    record = child_record(own(CHILDREN, visit.provider, child), visit.today)
    title = _("Emergency card")
    pdf = page_pdf(
        "provider/people/card_paper.html",
        title=title,
        issuer=visit.provider.name,
        style="provider/card.css",
        record=record,
        today=visit.today,
    )
    return pdf_response(pdf, "emergency-card.pdf")


@scoped(*STAFF, write=())
def allergy_list(request: ScopedRequest) -> HttpResponse:
    """The list that hangs where food is prepared."""
    visit = request.visit
    pdf = page_pdf(
        "provider/people/posted_paper.html",
        title=_("What our children must avoid"),
        issuer=visit.provider.name,
        posted=posted_list(visit.provider, visit.today),
        today=visit.today,
    )
    return pdf_response(pdf, "allergy-list.pdf")


CHILDREN = Child.objects.select_related("household__provider")


def child_url(request: ScopedRequest, row: Child) -> str:
    return reverse("provider:child", args=[request.visit.provider.slug, row.public_id])


def _own_beside(request: ScopedRequest, what: Kind, public_id: str) -> Any:
    rows = what.model.objects.filter(voided_at__isnull=True).select_related("child__household")
    return own(rows, request.visit.provider, public_id)


def _page(request: ScopedRequest, form: Any, title: str, submit: Any, row: Child, **context: Any) -> HttpResponse:
    back = (child_url(request, row), str(row))
    return show_form(request, "provider/people/form.html", form, title=title, submit=submit, back=back, **context)
