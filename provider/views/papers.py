"""The papers of families: recorded, renewed, corrected, and which of them lapse."""

from typing import Any

from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.forms.attendance import ReasonForm
from provider.forms.papers import FamilyPaperForm
from provider.models import Child, FamilyPaper, Household
from provider.selectors.papers import family_papers_due
from provider.services import papers as services
from provider.views.files import send_paper, store_sent
from provider.views.pages import act, show_form


@scoped(*STAFF)
def papers_due(request: ScopedRequest) -> HttpResponse:
    cards = family_papers_due(request.visit.provider, request.visit.today)
    return render(request, "provider/papers/due.html", {"cards": cards, "may_write": request.visit.may_write})


@scoped(OWNER)
def paper_add(request: ScopedRequest, household: str) -> HttpResponse:
    """With `renews` the form begins with what the earlier paper was, with `child` it is about that child."""
    provider = request.visit.provider
    row = own(Household, provider, household)
    form = FamilyPaperForm(
        request.POST or None, request.FILES or None, household=row, initial=_first_values(request, row)
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_family_paper(
                **request.visit.writer, household=row, file=store_sent(request, form), **form.values()
            ),
            done=_("The paper is saved."),
            go=lambda saved: _folder(request, saved),
        )
        if response:
            return response
    return _page(request, form, _("A paper of %(family)s") % {"family": row}, _("Save the paper"), _home(request, row))


@scoped(OWNER)
def paper_change(request: ScopedRequest, paper: str) -> HttpResponse:
    row = own(PAPERS, request.visit.provider, paper)
    form = FamilyPaperForm(
        request.POST or None, request.FILES or None, household=row.household, initial=FamilyPaperForm.of(row)
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_paper(
                **request.visit.writer,
                paper=row,
                version=form.cleaned_data["version"],
                file=store_sent(request, form),
                **form.values(),
            ),
            done=_("Saved."),
            go=lambda saved: _folder(request, saved),
        )
        if response:
            return response
    void = (reverse("provider:paper_void", args=[request.visit.provider.slug, row.public_id]), _("Take it out"))
    lead = _("To correct what was entered. A renewed paper is recorded anew, so that the old one is kept.")
    return _page(request, form, str(row), _("Save the paper"), _home(request, row.household), lead=lead, void=void)


@scoped(OWNER)
def paper_void(request: ScopedRequest, paper: str) -> HttpResponse:
    row = own(PAPERS, request.visit.provider, paper)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_paper(**request.visit.writer, paper=row, **form.values()),
            done=_("Taken out."),
            go=lambda saved: _folder(request, saved),
        )
        if response:
            return response
    title = _("Take out “%(row)s”?") % {"row": row}
    return _page(request, form, title, _("Take the paper out"), _home(request, row.household), danger=True)


@scoped(*STAFF, write=())
def paper_file(request: ScopedRequest, paper: str) -> FileResponse:
    row = own(PAPERS.select_related("file"), request.visit.provider, paper)
    return send_paper(row.file)


PAPERS = FamilyPaper.objects.filter(voided_at__isnull=True).select_related("household", "child")


def _first_values(request: ScopedRequest, household: Household) -> dict[str, Any]:
    if earlier := request.GET.get("renews"):
        old = own(PAPERS.filter(household=household), request.visit.provider, earlier)
        kept = ("kind", "child", "title", "edition")
        return {name: value for name, value in FamilyPaperForm.of(old).items() if name in kept}
    child = request.GET.get("child", "")
    return {"child": child, "signed_on": request.visit.today, "kind": request.GET.get("kind", "")}


def _folder(request: ScopedRequest, paper: FamilyPaper) -> str:
    """Back to the child whose paper it is, or to the family."""
    row: Child | Household = paper.child or paper.household
    name = "child" if paper.child else "household"
    return reverse(f"provider:{name}", args=[request.visit.provider.slug, row.public_id])


def _home(request: ScopedRequest, household: Household) -> tuple[str, str]:
    return reverse("provider:household", args=[request.visit.provider.slug, household.public_id]), household.name


def _page(
    request: ScopedRequest, form: Any, title: str, submit: str, back: tuple[str, str], **context: Any
) -> HttpResponse:
    return show_form(request, "provider/people/form.html", form, title=title, submit=submit, back=back, **context)
