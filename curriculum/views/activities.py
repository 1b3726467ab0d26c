"""The library of activities, and the owner's own goals."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.plans import ActivityForm, GoalForm
from curriculum.models import Activity, OwnGoal, ThemeRun
from curriculum.selectors import plans as selectors
from curriculum.services import plans as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.views.pages import act, show_form

SHOWN = 60  # activities in the list; a word narrows it


@scoped(*STAFF)
def activities(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    word = request.GET.get("word", "")[:80]
    found = selectors.ideas(provider, selectors.find_activities(provider, word)[: SHOWN + 1])
    context = {"ideas": found[:SHOWN], "word": word, "is_cut": len(found) > SHOWN}
    return render(request, "curriculum/plans/activities.html", context)


@scoped(*STAFF)
def activity(request: ScopedRequest, activity: str) -> HttpResponse:
    """An activity with where it came from, what it practises, and how it went."""
    provider = request.visit.provider
    row = own(Activity, provider, activity)
    (idea,) = selectors.ideas(provider, Activity.objects.filter(pk=row.pk))
    return render(request, "curriculum/plans/activity.html", {"idea": idea, "activity": row})


@scoped(OWNER)
def add_activity(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = ActivityForm(request.POST or None, frameworks=selectors.frameworks_of(visit.provider))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_activity(**visit.writer, **form.values()),
            done=_("The activity was added."),
            go=lambda row: reverse("curriculum:activity", args=[visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    context = {
        "title": _("Add an activity"),
        "submit": _("Add the activity"),
        "back": (reverse("curriculum:activities", args=[visit.provider.slug]), _("Activities")),
    }
    return show_form(request, "curriculum/plans/activity_form.html", form, **context)


@scoped(OWNER)
def change_activity(request: ScopedRequest, activity: str) -> HttpResponse:
    """Say what an activity practises and where it comes from; `?run=` leads back to a plan."""
    visit = request.visit
    row = own(Activity.objects.prefetch_related("goals"), visit.provider, activity)
    run = ThemeRun.objects.live().filter(provider=visit.provider, public_id=request.GET.get("run", "")).first()
    form = ActivityForm(
        request.POST or None,
        frameworks=selectors.frameworks_of(visit.provider),
        initial=ActivityForm.of_activity(row),
    )
    back = (
        reverse("curriculum:run_plan", args=[visit.provider.slug, run.public_id])
        if run
        else reverse("curriculum:activity", args=[visit.provider.slug, row.public_id])
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_activity(
                **visit.writer, activity=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The activity was saved."),
            go=lambda _row: back,
        )
        if response:
            return response
    context = {
        "title": row.name,
        "submit": _("Save the activity"),
        "back": (back, _("Plan") if run else row.name),
    }
    return show_form(request, "curriculum/plans/activity_form.html", form, **context)


@scoped(*STAFF)
def goals(request: ScopedRequest) -> HttpResponse:
    """The goals of all frameworks, and the owner's own."""
    provider = request.visit.provider
    context = {
        "own": OwnGoal.objects.filter(provider=provider).order_by("domain", "title"),
        "frameworks": selectors.frameworks_of(provider),
    }
    return render(request, "curriculum/plans/goals.html", context)


@scoped(OWNER)
def add_goal(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = GoalForm(request.POST or None, frameworks=selectors.frameworks_of(visit.provider))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_goal(**visit.writer, **form.values()),
            done=_("The goal was added."),
            go=lambda _row: reverse("curriculum:goals", args=[visit.provider.slug]),
        )
        if response:
            return response
    context = {
        "title": _("Add a goal of your own"),
        "submit": _("Add the goal"),
        "back": (reverse("curriculum:goals", args=[visit.provider.slug]), _("Goals")),
    }
    return show_form(request, "provider/form_page.html", form, **context)


@scoped(OWNER)
def change_goal(request: ScopedRequest, goal: str) -> HttpResponse:
    visit = request.visit
    row = own(OwnGoal, visit.provider, goal)
    frameworks = selectors.frameworks_of(visit.provider)
    known = {domain.code for each in frameworks if each.edition for domain in each.domains}
    place = "framework_domain" if row.domain in known else "own_domain"
    initial = {**GoalForm.of(row), place: row.domain}
    form = GoalForm(request.POST or None, frameworks=frameworks, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_goal(
                **visit.writer, goal=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The goal was saved."),
            go=lambda _row: reverse("curriculum:goals", args=[visit.provider.slug]),
        )
        if response:
            return response
    context = {
        "title": row.title,
        "submit": _("Save the goal"),
        "back": (reverse("curriculum:goals", args=[visit.provider.slug]), _("Goals")),
    }
    return show_form(request, "provider/form_page.html", form, **context)
