"""The owner's own papers, the people who work here, and a helper's pay as it was entered."""

from typing import Any

from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.attendance import ReasonForm
from provider.forms.papers import OwnPaperForm, PayForm, PersonForm
from provider.models import Engagement, HelperPay, OwnPaper, Person
from provider.selectors.papers import left, own_papers, person_record
from provider.services import papers as paper_services
from provider.services import staff as services
from provider.views.files import send_paper, store_sent
from provider.views.pages import act, show_form


@scoped(OWNER)
def own_papers_page(request: ScopedRequest) -> HttpResponse:
    provider, today = request.visit.provider, request.visit.today
    context = {"people": own_papers(provider, today), "left": left(provider, today)}
    return render(request, "provider/staff/papers.html", context)


@scoped(OWNER)
def own_paper_add(request: ScopedRequest) -> HttpResponse:
    """With `renews` the form begins with what the earlier paper was, with `person` it is theirs."""
    provider = request.visit.provider
    first: dict[str, Any] = {"person": request.GET.get("person", "")}
    if earlier := request.GET.get("renews"):
        first = OwnPaperForm.of(own(PAPERS, provider, earlier))
        first = {name: first[name] for name in ("kind", "person", "title")}
    form = OwnPaperForm(request.POST or None, request.FILES or None, provider=provider, initial=first)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: paper_services.record_own_paper(
                **request.visit.writer, file=store_sent(request, form), **form.values()
            ),
            done=_("The paper is saved."),
            go=lambda saved: _paper_home(request, saved),
        )
        if response:
            return response
    return _page(request, form, _("A paper of your own"), _("Save the paper"))


@scoped(OWNER)
def own_paper_change(request: ScopedRequest, own_paper: str) -> HttpResponse:
    provider = request.visit.provider
    row = own(PAPERS, provider, own_paper)
    form = OwnPaperForm(request.POST or None, request.FILES or None, provider=provider, initial=OwnPaperForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: paper_services.change_paper(
                **request.visit.writer,
                paper=row,
                version=form.cleaned_data["version"],
                file=store_sent(request, form),
                **form.values(),
            ),
            done=_("Saved."),
            go=lambda saved: _paper_home(request, saved),
        )
        if response:
            return response
    void = (_url(request, "own_paper_void", row), _("Take it out"))
    lead = _("To correct what was entered. A renewed paper is recorded anew, so that the old one is kept.")
    return _page(request, form, str(row), _("Save the paper"), lead=lead, void=void)


@scoped(OWNER)
def own_paper_void(request: ScopedRequest, own_paper: str) -> HttpResponse:
    row = own(PAPERS, request.visit.provider, own_paper)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: paper_services.void_paper(**request.visit.writer, paper=row, **form.values()),
            done=_("Taken out."),
            go=lambda saved: _paper_home(request, saved),
        )
        if response:
            return response
    return _page(request, form, _("Take out “%(row)s”?") % {"row": row}, _("Take the paper out"), danger=True)


@scoped(OWNER, write=())
def own_paper_file(request: ScopedRequest, own_paper: str) -> FileResponse:
    row = own(PAPERS.select_related("file"), request.visit.provider, own_paper)
    return send_paper(row.file)


@scoped(OWNER)
def person(request: ScopedRequest, person: str) -> HttpResponse:
    record = person_record(own(Person, request.visit.provider, person), request.visit.today)
    context = {"record": record, "is_paid": record.person.engagement in services.PAID}
    return render(request, "provider/staff/person.html", context)


@scoped(OWNER)
def person_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    first: dict[str, Any] = {"start": visit.today}
    if not Person.objects.filter(provider=visit.provider, engagement=Engagement.OWNER).exists():
        first = {
            "name": str(visit.user),
            "engagement": Engagement.OWNER,
            "start": visit.provider.opened_on,
            "membership": visit.membership.public_id,
        }
    form = PersonForm(request.POST or None, provider=visit.provider, initial=first)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_person(**visit.writer, **form.values()),
            done=_("Saved."),
            go=lambda saved: _url(request, "person", saved),
        )
        if response:
            return response
    return _page(request, form, _("Somebody who works here"), _("Save"))


@scoped(OWNER)
def person_change(request: ScopedRequest, person: str) -> HttpResponse:
    provider = request.visit.provider
    row = own(Person.objects.select_related("membership"), provider, person)
    form = PersonForm(request.POST or None, provider=provider, person=row, initial=PersonForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_person(
                **request.visit.writer, person=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda saved: _url(request, "person", saved),
        )
        if response:
            return response
    return _page(request, form, row.name, _("Save"))


@scoped(OWNER)
def pay_add(request: ScopedRequest, person: str) -> HttpResponse:
    row = own(Person, request.visit.provider, person)
    form = PayForm(request.POST or None, initial={"paid_on": request.visit.today})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_pay(**request.visit.writer, person=row, **form.values()),
            done=_("The payday is saved."),
            go=lambda _saved: _url(request, "person", row),
        )
        if response:
            return response
    lead = _("As it was worked out elsewhere: nothing is computed here.")
    return _page(request, form, _("A payday of %(person)s") % {"person": row}, _("Save the payday"), lead=lead)


@scoped(OWNER)
def pay_void(request: ScopedRequest, pay: str) -> HttpResponse:
    rows = HelperPay.objects.filter(voided_at__isnull=True).select_related("person")
    row = own(rows, request.visit.provider, pay)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_pay(**request.visit.writer, pay=row, **form.values()),
            done=_("Taken out."),
            go=lambda _saved: _url(request, "person", row.person),
        )
        if response:
            return response
    title = _("Take this payday out?")
    return _page(request, form, title, _("Take the payday out"), danger=True)


PAPERS = OwnPaper.objects.filter(voided_at__isnull=True).select_related("person")


def _paper_home(request: ScopedRequest, paper: OwnPaper) -> str:
    return _url(request, "person", paper.person) if paper.person else _url(request, "own_papers")


def _url(request: ScopedRequest, name: str, *rows: Any) -> str:
    return reverse(f"provider:{name}", args=[request.visit.provider.slug, *(row.public_id for row in rows)])


def _page(request: ScopedRequest, form: Any, title: str, submit: str, **context: Any) -> HttpResponse:
    back = (_url(request, "own_papers"), _("Papers and pay"))
    return show_form(request, "provider/people/form.html", form, title=title, submit=submit, back=back, **context)
