"""Setting the room up for a run, with the clock running centre by centre."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from curriculum.forms.setting_up import CentreTimerForm, LayOutForm
from curriculum.models import LearningCentre, ThemeRun
from curriculum.selectors.setting_up import set_up_of
from curriculum.services.setting_up import lay_out_needs
from provider.access import HELPER, OWNER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.base import DeskForm, new_submission_key
from provider.models import WorkKind
from provider.selectors.hours import running_timer
from provider.services.timer import start_timer, stop_timer
from provider.views.pages import act

RUNS = ThemeRun.objects.live().select_related("theme", "provider")


@scoped(*STAFF, write=())
def set_up(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    room = set_up_of(row, visit.today)
    timer = running_timer(visit.provider, visit.user)
    return render(
        request,
        "curriculum/set_up.html",
        {
            "run": row,
            "room": room,
            "can_lay_out": any(centre.can_lay_out for centre in room.centres),
            "timer": timer,
            "key": new_submission_key,
        },
    )


@scoped(OWNER)
@require_POST
def lay_out(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = LayOutForm(request.POST, run=row)
    need = form.cleaned_data["need"] if form.is_valid() else None
    centre = need.centre if need else form.cleaned_data.get("centre")
    return _carry_out(
        request, row, form, lambda: lay_out_needs(**visit.writer, run=row, **form.values()), _("It lies out."), centre
    )


@scoped(*STAFF, write=STAFF)
@require_POST
def start_preparing(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = CentreTimerForm(request.POST, run=row)
    centre = form.cleaned_data["centre"] if form.is_valid() else None
    return _carry_out(
        request,
        row,
        form,
        lambda: start_timer(
            **visit.writer,
            now=now(),
            kind=WorkKind.PREPARE,
            run=row.public_id,
            centre=form.cleaned_data["centre"].public_id,
            submission_key=form.cleaned_data["submission_key"],
        ),
        _("The timer runs. You may lock the phone."),
        centre,
    )


@scoped(*STAFF, write=STAFF)
@require_POST
def stop_preparing(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = DeskForm(request.POST)
    timer = running_timer(visit.provider, visit.user)
    centres = LearningCentre.objects.filter(provider=visit.provider)
    centre = centres.filter(public_id=timer.centre_public_id).first() if timer else None
    return _carry_out(
        request,
        row,
        form,
        lambda: stop_timer(
            **visit.writer,
            now=now(),
            person=str(visit.user) if visit.role == HELPER else "",
            submission_key=form.cleaned_data["submission_key"],
        ),
        _("Logged."),
        centre,
    )


def _carry_out(
    request: ScopedRequest,
    run: ThemeRun,
    form: DeskForm,
    service: Callable[[], Any],
    done: str,
    centre: LearningCentre | None,
) -> HttpResponse:
    """One tap on the page: back to it, at the centre, with what was done or why it was not."""
    address = reverse("curriculum:set_up", args=[run.provider.slug, run.public_id])
    address = f"{address}#centre-{centre.public_id}" if centre else address
    response = act(request, form, service, done=done, go=lambda _row: address)
    if response:
        return response
    for told in form.errors.values():
        for message in told:
            messages.error(request, str(message))
    return HttpResponseRedirect(address)
