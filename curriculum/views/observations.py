"""Observations: written by owner and helper, read by the family when it is for the family."""

from typing import Any

from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.observations import NewObservationForm, ObservationForm
from curriculum.models import Observation
from curriculum.selectors import observations as selectors
from curriculum.services import observations as services
from provider.access import FAMILY, STAFF, ScopedRequest, own, scoped
from provider.forms.attendance import ReasonForm
from provider.models import Child
from provider.services.files import store_upload
from provider.views.files import send_paper
from provider.views.pages import act, show_form

PER_PAGE = 30
ROWS = Observation.objects.filter(voided_at__isnull=True).select_related("child", "photo")


@scoped(*STAFF)
def observations(request: ScopedRequest) -> HttpResponse:
    """All of them, or those of the child that the address asks for."""
    provider = request.visit.provider
    chosen = request.GET.get("child", "")
    child = own(Child, provider, chosen) if chosen else None
    page = Paginator(selectors.observations_of(provider, child), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "curriculum/observations.html", {"page": page, "child": child})


@scoped(*STAFF, write=STAFF)
def add_observation(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {"child": request.GET.get("child", ""), "day": visit.today}
    form = NewObservationForm(request.POST or None, request.FILES or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_observation(**visit.writer, photo=_kept(request, form), **form.values("photo")),
            done=_("The observation is saved."),
            go=lambda row: _of_child(request, row.child),
        )
        if response:
            return response
    return _page(request, form, _("What a child was seen doing"))


@scoped(*STAFF, write=STAFF)
def change_observation(request: ScopedRequest, observation: str) -> HttpResponse:
    visit = request.visit
    row = own(ROWS, visit.provider, observation)
    initial = {name: value for name, value in ObservationForm.of(row).items() if name != "photo"}
    form = ObservationForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_observation(
                **visit.writer,
                observation=row,
                version=form.cleaned_data["version"],
                photo=_kept(request, form),
                **form.values("photo"),
            ),
            done=_("Saved."),
            go=lambda saved: _of_child(request, saved.child),
        )
        if response:
            return response
    return _page(request, form, _("Observation of %(child)s") % {"child": row.child}, row)


@scoped(*STAFF, write=STAFF)
def void_observation(request: ScopedRequest, observation: str) -> HttpResponse:
    row = own(Observation.objects.select_related("child"), request.visit.provider, observation)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_observation(**request.visit.writer, observation=row, **form.values()),
            done=_("Taken out. The family no longer sees it."),
            go=lambda saved: _of_child(request, saved.child),
        )
        if response:
            return response
    context = {
        "title": _("Take out the observation of %(child)s?") % {"child": row.child},
        "submit": _("Take it out"),
        "danger": True,
        "back": (_url(request), _("Observations")),
    }
    return show_form(request, "provider/form_page.html", form, **context)


@scoped(*STAFF, write=())
def observation_photo(request: ScopedRequest, observation: str) -> FileResponse:
    return send_paper(own(ROWS, request.visit.provider, observation).photo)


@scoped(FAMILY, write=())
def family_observations(request: ScopedRequest) -> HttpResponse:
    household = request.visit.membership.household
    assert household is not None  # a constraint says so of every family member
    seen = selectors.family_observations(household, request.visit.today)
    return render(request, "curriculum/family_observations.html", {"household": household, "seen": seen})


@scoped(FAMILY, write=())
def family_photo(request: ScopedRequest, observation: str) -> FileResponse:
    """A photo of the family's own child, while its permission holds; 404 otherwise."""
    visit = request.visit
    household = visit.membership.household
    assert household is not None  # a constraint says so of every family member
    row = own(ROWS.filter(child__household=household, for_family=True), visit.provider, observation)
    if row.child_id not in selectors.photos_allowed(household, {row.child_id}, visit.today):
        raise Http404(_("No such record."))
    return send_paper(row.photo)


def _kept(request: ScopedRequest, form: ObservationForm) -> Any:
    """The photo that was sent, kept before the observation: a file is never written inside a transaction."""
    upload = form.cleaned_data["photo"]
    return store_upload(provider=request.visit.provider, actor=request.visit.user, upload=upload) if upload else None


def _url(request: ScopedRequest) -> str:
    return reverse("curriculum:observations", args=[request.visit.provider.slug])


def _of_child(request: ScopedRequest, child: Child) -> str:
    return f"{_url(request)}?child={child.public_id}"


def _page(request: ScopedRequest, form: ObservationForm, title: str, row: Observation | None = None) -> HttpResponse:
    context = {"title": title, "row": row, "goals": selectors.goals_used(request.visit.provider)}
    return show_form(request, "curriculum/observation_form.html", form, **context)
