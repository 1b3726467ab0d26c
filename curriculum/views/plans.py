"""The plan of a run, what it practises, and its sheet for the wall."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.plans import NeededForm, NeedForm, PlanActivityForm, PlannedForm
from curriculum.models import Activity, Material, PlannedActivity, PlannedMaterial, ThemeRun
from curriculum.selectors import plans as selectors
from curriculum.services import plans as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.documents import page_pdf
from provider.forms.base import DayField, DeskForm
from provider.views.pages import act, pdf_response, show_form

OFFERED = 1000  # names to choose from; any other name can be typed
RUNS = ThemeRun.objects.live().select_related("theme", "provider", "started_from__theme", "started_from__review")
PLANNED = PlannedActivity.objects.filter(voided_at__isnull=True, run__voided_at__isnull=True).select_related(
    "run__theme", "run__provider", "centre", "activity"
)
NEEDS = PlannedMaterial.objects.filter(voided_at__isnull=True, run__voided_at__isnull=True).select_related(
    "run__theme", "run__provider", "centre", "material"
)


@scoped(*STAFF)
def plan(request: ScopedRequest, run: str) -> HttpResponse:
    row = own(RUNS, request.visit.provider, run)
    return render(
        request,
        "curriculum/plans/plan.html",
        {"run": row, "plan": selectors.plan_of(row), "review": getattr(row.started_from, "review", None)},
    )


@scoped(*STAFF, write=())
def sheet(request: ScopedRequest, run: str) -> HttpResponse:
    """The plan on one page, for the wall."""
    row = own(RUNS, request.visit.provider, run)
    pdf = page_pdf(
        "curriculum/documents/plan_sheet.html",
        title=row.theme.name,
        issuer=row.provider.name,
        style="curriculum/plan_sheet.css",
        run=row,
        plan=selectors.plan_of(row),
    )
    return pdf_response(pdf, f"plan-{row.start:%Y-%m}.pdf")


@scoped(*STAFF)
def coverage(request: ScopedRequest, run: str) -> HttpResponse:
    """What a run practises centre by centre."""
    row = own(RUNS, request.visit.provider, run)
    picture = selectors.coverage_of_run(row, request.GET.get("framework", ""))
    return render(request, "curriculum/plans/coverage.html", {"run": row, "picture": picture})


@scoped(*STAFF)
def coverage_year(request: ScopedRequest, year: int) -> HttpResponse:
    """What the runs of a year practise."""
    visit = request.visit
    if year not in DayField.years:
        raise Http404(_("No such page."))
    picture = selectors.coverage_of_year(visit.provider, year, request.GET.get("framework", ""))
    years = selectors.coverage_years(visit.provider)
    return render(request, "curriculum/plans/coverage.html", {"picture": picture, "year": year, "years": years})


@scoped(OWNER)
def plan_activity(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    initial = {"centre": request.GET.get("centre")}
    form = PlanActivityForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.plan_activity(**visit.writer, run=row, **form.values()),
            done=_("The activity was planned."),
            go=lambda planned: _after_planning(row, planned),
        )
        if response:
            return response
    known = Activity.objects.filter(provider=visit.provider).order_by("name").values_list("name", flat=True)
    context = {
        "title": _("Plan an activity"),
        "submit": _("Plan it"),
        "back": (_plan_url(row), _("Plan: %(theme)s") % {"theme": row.theme}),
        "known": known[:OFFERED],
        "list": "known-activities",
    }
    return show_form(request, "curriculum/plans/name_form.html", form, **context)


@scoped(OWNER)
def change_planned(request: ScopedRequest, planned: str) -> HttpResponse:
    visit = request.visit
    row = own(PLANNED, visit.provider, planned)
    initial = {"centre": row.centre.public_id, "note": row.note, "version": row.version}
    form = PlannedForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_planned(
                **visit.writer, planned=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The plan was saved."),
            go=lambda saved: _plan_url(saved.run, saved),
        )
        if response:
            return response
    context = {
        "title": row.activity.name,
        "submit": _("Save the plan"),
        "back": (_plan_url(row.run), _("Plan: %(theme)s") % {"theme": row.run.theme}),
        "take_out": reverse("curriculum:take_out_activity", args=[visit.provider.slug, row.public_id]),
    }
    return show_form(request, "curriculum/plans/planned_form.html", form, **context)


@scoped(OWNER)
def plan_material(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = NeedForm(request.POST or None, provider=visit.provider, initial={"centre": request.GET.get("centre")})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.plan_material(**visit.writer, run=row, **form.values()),
            done=_("The need was noted."),
            go=lambda need: _plan_url(row, need),
        )
        if response:
            return response
    known = Material.objects.filter(provider=visit.provider).order_by("name").values_list("name", flat=True)
    context = {
        "title": _("Plan a material"),
        "submit": _("Note the need"),
        "back": (_plan_url(row), _("Plan: %(theme)s") % {"theme": row.theme}),
        "known": known[:OFFERED],
        "list": "known-materials",
    }
    return show_form(request, "curriculum/plans/name_form.html", form, **context)


@scoped(OWNER)
def change_need(request: ScopedRequest, wanted: str) -> HttpResponse:
    visit = request.visit
    row = own(NEEDS, visit.provider, wanted)
    initial = {
        "quantity": row.quantity,
        "centre": row.centre.public_id if row.centre else "",
        "used_as": row.used_as,
        "version": row.version,
    }
    form = NeededForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_need(
                **visit.writer, need=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The need was saved."),
            go=lambda saved: _plan_url(saved.run, saved),
        )
        if response:
            return response
    context = {
        "title": row.material.name,
        "submit": _("Save the need"),
        "back": (_plan_url(row.run), _("Plan: %(theme)s") % {"theme": row.run.theme}),
        "take_out": reverse("curriculum:take_out_need", args=[visit.provider.slug, row.public_id]),
    }
    return show_form(request, "curriculum/plans/planned_form.html", form, **context)


@scoped(OWNER)
def take_out_activity(request: ScopedRequest, planned: str) -> HttpResponse:
    row = own(PLANNED, request.visit.provider, planned)
    return _take_out(request, row, row.activity.name)


@scoped(OWNER)
def take_out_need(request: ScopedRequest, wanted: str) -> HttpResponse:
    row = own(NEEDS, request.visit.provider, wanted)
    return _take_out(request, row, row.material.name)


def _take_out(request: ScopedRequest, row: PlannedActivity | PlannedMaterial, name: str) -> HttpResponse:
    form = DeskForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.take_out(**request.visit.writer, row=row, version=form.cleaned_data["version"]),
            done=_("It was taken out of the plan."),
            go=lambda saved: _plan_url(saved.run),
        )
        if response:
            return response
    context = {
        "title": _("Take “%(name)s” out of this plan?") % {"name": name},
        "submit": _("Take it out"),
        "danger": True,
        "back": (_plan_url(row.run), _("Plan: %(theme)s") % {"theme": row.run.theme}),
    }
    return show_form(request, "provider/form_page.html", form, **context)


def _plan_url(run: ThemeRun, row: PlannedActivity | PlannedMaterial | None = None) -> str:
    url = reverse("curriculum:run_plan", args=[run.provider.slug, run.public_id])
    return f"{url}#centre-{row.centre.public_id if row.centre else 'none'}" if row else url


def _after_planning(run: ThemeRun, planned: PlannedActivity) -> str:
    """What a new activity practises is asked next; of one that is known it was said before."""
    if planned.activity.goals.exists():
        return _plan_url(run, planned)
    url = reverse("curriculum:change_activity", args=[run.provider.slug, planned.activity.public_id])
    return f"{url}?run={run.public_id}"
