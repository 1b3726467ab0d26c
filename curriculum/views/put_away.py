"""Putting a room away centre by centre, and what becomes of what broke."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.materials import BrokenForm, PlanBrokenForm
from curriculum.models import BrokenThing, PutAway, ThemeRun
from curriculum.selectors.mending import broken_things, undecided, waits_for_plan
from curriculum.selectors.runs import room_of, still_to_count
from curriculum.services import mending as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.views.pages import act, show_form

RUNS = ThemeRun.objects.live().select_related("theme", "provider")
COUNTS = PutAway.objects.filter(voided_at__isnull=True).select_related(
    "placement__run__theme", "placement__run__provider", "placement__lot__material"
)
BROKEN = BrokenThing.objects.filter(put_away__voided_at__isnull=True).select_related(
    "put_away__placement__run__theme", "put_away__placement__run__provider", "put_away__placement__lot__material"
)


@scoped(*STAFF, write=())
def put_away_room(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    room = room_of(row)
    return render(
        request,
        "curriculum/put_away_room.html",
        {
            "run": row,
            "room": [view for view in room if view.laid],
            "to_count": still_to_count(room),
            "has_begun": row.start <= visit.today,
        },
    )


@scoped(OWNER, write=())
def broken_list(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    things = list(broken_things(provider))
    return render(
        request,
        "curriculum/broken_list.html",
        {
            "undecided": undecided(provider),
            "open": [thing for thing in things if thing.done_on is None],
            "done": [thing for thing in things if thing.done_on],
        },
    )


@scoped(OWNER)
def plan_broken(request: ScopedRequest, row: str) -> HttpResponse:
    visit = request.visit
    count = own(COUNTS, visit.provider, row)
    left = waits_for_plan(count)
    form = PlanBrokenForm(request.POST or None, initial={"quantity": left})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.plan_broken(**visit.writer, put_away=count, **form.values()),
            done=_("Noted."),
            go=lambda _row: reverse("curriculum:broken_list", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/plan_broken.html", form, count=count, left=left)


@scoped(OWNER)
def broken(request: ScopedRequest, broken: str) -> HttpResponse:
    visit = request.visit
    row = own(BROKEN, visit.provider, broken)
    form = BrokenForm(request.POST or None, initial=BrokenForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_broken(
                **visit.writer, broken=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("Noted."),
            go=lambda _row: reverse("curriculum:broken_list", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/broken_form.html", form, thing=row)
