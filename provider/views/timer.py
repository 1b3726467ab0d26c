"""The timer: one per user, started and stopped by one tap each."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider import doors
from provider.access import HELPER, STAFF, ScopedRequest, scoped
from provider.clock import now
from provider.doors import RunChoice
from provider.errors import DomainError
from provider.forms.timer import StartTimerForm, StopTimerForm
from provider.selectors.hours import running_timer
from provider.services import timer as services
from provider.views.pages import act, show_form


def start_form(request: ScopedRequest) -> StartTimerForm:
    return StartTimerForm(request.POST if request.method == "POST" else None, runs=_runs(request))


@scoped(*STAFF, write=STAFF)
@require_POST
def timer_start(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = start_form(request)
    response = act(
        request,
        form,
        lambda: services.start_timer(**visit.writer, now=now(), **form.values()),
        done=_("The timer runs. You may lock the phone."),
        go=lambda _row: reverse("provider:today", args=[visit.provider.slug]),
    )
    return response or _refused(request, [str(message) for part in form.errors.values() for message in part])


@scoped(*STAFF, write=STAFF)
def timer_stop(request: ScopedRequest) -> HttpResponse:
    """Stop now by the button on Today, or here with the end that is typed."""
    visit = request.visit
    person = str(visit.user) if visit.role == HELPER else ""
    form = StopTimerForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.stop_timer(
                **visit.writer,
                now=now(),
                ended_at=form.ended_at(visit.provider.zone),
                person=person,
                note=form.cleaned_data["note"],
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("Logged."),
            go=lambda row: reverse(
                "provider:hours_month",
                args=[visit.provider.slug, localtime(row.started_at).year, localtime(row.started_at).month],
            ),
        )
        if response:
            return response
    timer = running_timer(visit.provider, visit.user)
    if timer is None:
        return _refused(request, [_("No timer is running.")])
    return show_form(
        request,
        "provider/hours/stop.html",
        form,
        timer=timer,
        title=_("Stop the timer"),
        submit=_("Stop and log"),
        back=(reverse("provider:today", args=[visit.provider.slug]), _("Today")),
    )


@scoped(*STAFF, write=STAFF)
@require_POST
def timer_discard(request: ScopedRequest) -> HttpResponse:
    try:
        services.discard_timer(**request.visit.writer)
        messages.success(request, _("The timer was discarded. Nothing was logged."))
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(reverse("provider:today", args=[request.visit.provider.slug]))


def _runs(request: ScopedRequest) -> list[RunChoice]:
    visit = request.visit
    return [run for source in doors.runs_to_work_for for run in source(visit.provider, visit.today)]


def _refused(request: ScopedRequest, told: list[str]) -> HttpResponse:
    for message in told:
        messages.error(request, message)
    return HttpResponseRedirect(reverse("provider:hours", args=[request.visit.provider.slug]))
