"""Safety records: incidents, drills, home checks. Owner and helper write; nothing is overwritten."""

from typing import Any

from django.core.paginator import Paginator
from django.db.models import Model, QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.base import DeskForm
from provider.forms.safety import (
    CorrectDrillForm,
    CorrectHomeCheckForm,
    CorrectIncidentForm,
    DrillForm,
    HomeCheckForm,
    IncidentForm,
    IntervalForm,
    ToldFields,
)
from provider.models import Child, Drill, HomeCheck, Incident
from provider.selectors import safety as selectors
from provider.selectors.attendance import day_sheet
from provider.services import safety as services
from provider.views.pages import act, show_form

PER_PAGE = 30


@scoped(*STAFF)
def safety(request: ScopedRequest) -> HttpResponse:
    """What is due, and the reports."""
    provider = request.visit.provider
    chosen = request.GET.get("child", "")
    child = own(Child, provider, chosen) if chosen else None
    context = {"due": selectors.due(provider, request.visit.today), "child": child}
    return _list(request, "incidents", selectors.incidents_of(provider, child), **context)


@scoped(*STAFF)
def drills(request: ScopedRequest) -> HttpResponse:
    return _list(request, "drills", selectors.drills_of(request.visit.provider))


@scoped(*STAFF)
def home_checks(request: ScopedRequest) -> HttpResponse:
    return _list(request, "home_checks", selectors.home_checks_of(request.visit.provider))


@scoped(*STAFF)
def incident(request: ScopedRequest, incident: str) -> HttpResponse:
    row = own(Incident.objects.select_related("child"), request.visit.provider, incident)
    return _record(request, "incident", row, selectors.incident_versions(row))


@scoped(*STAFF)
def drill(request: ScopedRequest, drill: str) -> HttpResponse:
    row = own(Drill, request.visit.provider, drill)
    return _record(request, "drill", row, selectors.drill_versions(row))


@scoped(*STAFF)
def home_check(request: ScopedRequest, check: str) -> HttpResponse:
    row = own(HomeCheck, request.visit.provider, check)
    return _record(request, "home_check", row, selectors.home_check_versions(row))


@scoped(*STAFF, write=STAFF)
def incident_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {"child": request.GET.get("child", ""), "happened_at": now(), "written_by": str(visit.user)}
    form = IncidentForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.report_incident(**visit.writer, now=now(), **form.values()),
            done=_("The report is saved."),
            go=lambda row: _url(request, "incident", row),
        )
        if response:
            return response
    return _page(request, form, _("Report an incident or illness"), _("Save the report"))


@scoped(*STAFF, write=STAFF)
def incident_told(request: ScopedRequest, incident: str) -> HttpResponse:
    """Add who was told and who signed, as a new version of the report."""
    row = own(Incident.objects.select_related("child"), request.visit.provider, incident)
    form = ToldFields(request.POST or None, initial=ToldFields.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_incident(
                **request.visit.writer,
                now=now(),
                incident=row,
                reason=_("Parent told or signed"),
                **form.values(),
            ),
            done=_("Saved."),
            go=lambda saved: _url(request, "incident", saved),
        )
        if response:
            return response
    title = _("Who was told and who signed for %(child)s") % {"child": row.child}
    return _page(request, form, title, _("Save"), lead=row.what)


@scoped(*STAFF, write=STAFF)
def incident_correct(request: ScopedRequest, incident: str) -> HttpResponse:
    visit = request.visit
    row = own(Incident.objects.select_related("child"), visit.provider, incident)
    form = CorrectIncidentForm(request.POST or None, provider=visit.provider, initial=CorrectIncidentForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_incident(**visit.writer, now=now(), incident=row, **form.values()),
            done=_("Corrected. The earlier report is kept beside it."),
            go=lambda saved: _url(request, "incident", saved),
        )
        if response:
            return response
    return _page(request, form, _("Correct the report"), _("Save the correction"))


@scoped(*STAFF, write=STAFF)
def drill_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    here = len(day_sheet(visit.provider, visit.today).among("here"))
    initial = {"held_at": now(), "children": here, "adults": 1, "led_by": str(visit.user)}
    form = DrillForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_drill(**visit.writer, now=now(), **form.values()),
            done=_("The drill is saved."),
            go=lambda _row: _url(request, "drills"),
        )
        if response:
            return response
    return _page(request, form, _("Record a drill"), _("Save the drill"), back="drills")


@scoped(*STAFF, write=STAFF)
def drill_correct(request: ScopedRequest, drill: str) -> HttpResponse:
    row = own(Drill, request.visit.provider, drill)
    form = CorrectDrillForm(request.POST or None, initial=CorrectDrillForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_drill(**request.visit.writer, now=now(), drill=row, **form.values()),
            done=_("Corrected. The earlier record is kept beside it."),
            go=lambda saved: _url(request, "drill", saved),
        )
        if response:
            return response
    return _page(request, form, _("Correct the drill"), _("Save the correction"), back="drills")


@scoped(*STAFF, write=STAFF)
def home_check_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    items = [{"item": each, "ok": False, "note": ""} for each in selectors.items_to_check(visit.provider)]
    initial = {"done_on": visit.today, "done_by": str(visit.user)}
    form = HomeCheckForm(request.POST or None, items=items, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_home_check(**visit.writer, **_round(form)),
            done=_("The home check is saved."),
            go=lambda _row: _url(request, "home_checks"),
        )
        if response:
            return response
    return _round_page(request, form, _("Check the home"), _("Save the check"))


@scoped(*STAFF, write=STAFF)
def home_check_correct(request: ScopedRequest, check: str) -> HttpResponse:
    row = own(HomeCheck, request.visit.provider, check)
    form = CorrectHomeCheckForm(request.POST or None, items=row.items, initial=CorrectHomeCheckForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_home_check(
                **request.visit.writer, check=row, reason=form.cleaned_data["reason"], **_round(form)
            ),
            done=_("Corrected. The earlier record is kept beside it."),
            go=lambda saved: _url(request, "home_check", saved),
        )
        if response:
            return response
    return _round_page(request, form, _("Correct the home check"), _("Save the correction"))


@scoped(OWNER)
def safety_intervals(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {each.what: each.days for each in selectors.due(visit.provider, visit.today)}
    form = IntervalForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.set_intervals(**visit.writer, days=form.days()),
            done=_("Saved."),
            go=lambda _rows: _url(request, "safety"),
        )
        if response:
            return response
    lead = _("Places differ: some ask for a drill every month, some for one every six months. Your licence decides.")
    return _page(request, form, _("How often"), _("Save"), lead=lead)


def _round(form: HomeCheckForm) -> dict[str, Any]:
    data = form.cleaned_data
    return {
        "done_on": data["done_on"],
        "done_by": data["done_by"],
        "items": form.checked(),
        "submission_key": data["submission_key"],
    }


def _list(request: ScopedRequest, kind: str, rows: QuerySet[Any], **context: Any) -> HttpResponse:
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    template = f"provider/safety/{kind}.html"
    return render(request, template, {"page": page, "may_set": request.visit.may_write, **context})


def _record(request: ScopedRequest, kind: str, row: Model, versions: list[Any]) -> HttpResponse:
    newest = versions[0]
    context = {"row": row, "newest": newest, "is_newest": row.pk == newest.pk, "versions": versions}
    return render(request, f"provider/safety/{kind}.html", context)


def _url(request: ScopedRequest, name: str, *rows: Any) -> str:
    return reverse(f"provider:{name}", args=[request.visit.provider.slug, *(row.public_id for row in rows)])


def _round_page(request: ScopedRequest, form: HomeCheckForm, title: str, submit: str) -> HttpResponse:
    return _page(request, form, title, submit, back="home_checks", template="provider/safety/home_check_form.html")


def _page(
    request: ScopedRequest,
    form: DeskForm,
    title: str,
    submit: str,
    back: str = "safety",
    template: str = "provider/form_page.html",
    **context: Any,
) -> HttpResponse:
    words = {"safety": _("Safety"), "drills": _("Drills"), "home_checks": _("Home checks")}
    return show_form(
        request, template, form, title=title, submit=submit, back=(_url(request, back), words[back]), **context
    )
