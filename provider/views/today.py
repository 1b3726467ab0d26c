"""Today: who is expected, here and gone, and what is due."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider import doors
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.errors import DomainError
from provider.forms.door import SignOutForm
from provider.models import Attendance, Child
from provider.selectors.attendance import day_sheet
from provider.selectors.home import coming_closures
from provider.selectors.hours import running_timer
from provider.selectors.safety import medicines_today
from provider.selectors.sheets import collectors_of, here_now, last_collector
from provider.selectors.stays import open_stay
from provider.services import attendance as services
from provider.views.pages import act, show_form


@scoped(*STAFF)
def today(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    sheet = day_sheet(visit.provider, visit.today, now())
    context = {
        "sheet": sheet,
        "medicines": medicines_today(visit.provider, [each.child for each in sheet.here], visit.today),
        "notices": [notice for source in doors.notices for notice in source(visit.provider, visit.role, visit.today)],
        "theme": next((found for find in doors.theme_of_day if (found := find(visit.provider, visit.today))), None),
        "closures": coming_closures(visit.provider, visit.today),
        "is_owner": visit.role == OWNER,
        "timer": running_timer(visit.provider, visit.user),
    }
    return render(request, "provider/today/today.html", context)


@scoped(*STAFF, write=STAFF)
@require_POST
def sign_in_child(request: ScopedRequest, child: str) -> HttpResponse:
    return _tap(request, child, services.sign_in_child, _("%(child)s is here."))


@scoped(*STAFF, write=STAFF)
def sign_out_child(request: ScopedRequest, child: str) -> HttpResponse:
    """Who takes the child home: one button for each person who may, and a note for anybody else."""
    visit = request.visit
    row = own(Child, visit.provider, child)
    guardians, listed = collectors_of(row, visit.today)
    form = SignOutForm(request.POST or None, guardians=guardians, listed=listed)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.sign_out_child(
                **visit.writer,
                now=now(),
                child=row,
                submission_key=form.cleaned_data["submission_key"],
                **form.handover(),
            ),
            done=_("%(child)s has left.") % {"child": row},
            go=lambda _row: _today_url(request),
        )
        if response:
            return response
    context = {
        "child": row,
        "stay": open_stay(visit.provider, row),
        "guardians": guardians,
        "listed": listed,
        "last": last_collector(row),
        "day": visit.today,
    }
    return show_form(request, "provider/today/sign_out.html", form, **context)


@scoped(*STAFF, write=STAFF)
@require_POST
def undo_attendance(request: ScopedRequest, attendance: str) -> HttpResponse:
    row = own(Attendance.objects.select_related("child"), request.visit.provider, attendance)
    version = request.POST.get("version", "")
    try:
        services.undo_attendance(
            **request.visit.writer,
            now=now(),
            attendance=row,
            version=int(version) if version.isdecimal() else 0,
            submission_key=request.POST.get("submission_key", "")[:64],
        )
        messages.success(request, _("Undone for %(child)s.") % {"child": row.child})
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(_today_url(request))


@scoped(*STAFF)
def present(request: ScopedRequest) -> HttpResponse:
    """Everybody in the house, on one page to print or to carry out."""
    visit = request.visit
    context = {"present": here_now(visit.provider, visit.today), "at": now(), "day": visit.today}
    return render(request, "provider/today/present.html", context)


def _tap(request: ScopedRequest, public_id: str, service: Callable[..., Attendance], done: str) -> HttpResponse:
    """Carry out one tap. There is no form to show again: a refusal is said on Today."""
    child = own(Child, request.visit.provider, public_id)
    key = request.POST.get("submission_key", "")[:64]
    try:
        service(**request.visit.writer, now=now(), child=child, submission_key=key)
        messages.success(request, done % {"child": child})
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(_today_url(request))


def _today_url(request: ScopedRequest) -> str:
    return reverse("provider:today", args=[request.visit.provider.slug])
