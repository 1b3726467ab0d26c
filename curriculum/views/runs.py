"""The Theme door and the page of a run."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.plans import VoidForm
from curriculum.forms.themes import RunForm
from curriculum.models import ThemeRun
from curriculum.selectors.runs import earlier_run, next_free_span, room_of, runs_around, still_to_count, work_of
from curriculum.services import themes as services
from curriculum.services.runs import void_run
from curriculum.services.work import log_run_work
from curriculum.views.check import check_line
from provider.access import HELPER, OWNER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.hours import WorkForm
from provider.views.pages import act, show_form

RUNS = ThemeRun.objects.live().select_related("theme", "provider")


@scoped(*STAFF)
def theme(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    return render(request, "curriculum/theme.html", {"runs": runs_around(visit.provider, visit.today)})


@scoped(OWNER)
def plan(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    span = next_free_span(visit.provider, visit.today)
    earlier = earlier_run(visit.provider, request.GET.get("from", ""), request.GET.get("theme", ""))
    initial = {
        "start": span.start,
        "end": span.last_day,
        "theme": earlier.theme.public_id if earlier else request.GET.get("theme"),
        "start_from": earlier.public_id if earlier else "",
    }
    form = RunForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.plan_run(**visit.writer, **form.values()),
            done=_("The theme was planned."),
            go=lambda run: _run_url(run),
        )
        if response:
            return response
    return show_form(request, "curriculum/run_form.html", form)


@scoped(*STAFF)
def run(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    room = room_of(row)
    return render(
        request,
        "curriculum/run.html",
        {
            "run": row,
            "room": room,
            "to_count": still_to_count(room),
            "has_begun": row.start <= visit.today,
            "is_over": row.end <= visit.today,
            "work": work_of(row),
            "check": check_line(visit.provider, row.span),
        },
    )


@scoped(OWNER)
def change(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    initial = {
        "theme": row.theme.public_id,
        "start": row.start,
        "end": row.span.last_day,
        "budget": row.budget,
        "note": row.note,
        "version": row.version,
    }
    form = RunForm(request.POST or None, provider=visit.provider, is_new=False, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_run(
                **visit.writer, run=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The run was saved."),
            go=_run_url,
        )
        if response:
            return response
    return show_form(request, "curriculum/run_form.html", form, run=row)


@scoped(OWNER)
def void(request: ScopedRequest, run: str) -> HttpResponse:
    """Take a run out of the plan that was planned by mistake."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = VoidForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: void_run(
                **visit.writer, run=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The run was taken out of the plan."),
            go=lambda _row: reverse("curriculum:theme", args=[visit.provider.slug]),
        )
        if response:
            return response
    context = {
        "title": _("Was “%(theme)s” planned by mistake?") % {"theme": row.theme},
        "lead": _("It leaves the plan, and its days are free again. What hangs on it has to be taken out first."),
        "submit": _("Take it out of the plan"),
        "danger": True,
        "back": (_run_url(row), row.theme.name),
    }
    return show_form(request, "provider/form_page.html", form, **context)


@scoped(*STAFF, write=(OWNER, HELPER))
def log_hours(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    person = str(visit.user) if visit.role == HELPER else ""
    initial = {"day": min(visit.today, row.span.last_day), "person": person}
    form = WorkForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: log_run_work(**visit.writer, now=now(), run=row, **form.entry(visit.provider.zone)),
            done=_("The hours were logged."),
            go=lambda _row: _run_url(row),
        )
        if response:
            return response
    return show_form(request, "curriculum/hours_form.html", form, run=row)


def _run_url(run: ThemeRun) -> str:
    return reverse("curriculum:run", args=[run.provider.slug, run.public_id])
