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
from provider.models import Attendance, Child
from provider.selectors.attendance import day_sheet
from provider.selectors.home import coming_closures
from provider.services import attendance as services


@scoped(*STAFF)
def today(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    context = {
        "sheet": day_sheet(visit.provider, visit.today),
        "notices": [notice for source in doors.notices for notice in source(visit.provider, visit.role, visit.today)],
        "theme": next((found for find in doors.theme_of_day if (found := find(visit.provider, visit.today))), None),
        "closures": coming_closures(visit.provider, visit.today),
        "is_owner": visit.role == OWNER,
    }
    return render(request, "provider/today/today.html", context)


@scoped(*STAFF, write=STAFF)
@require_POST
def sign_in_child(request: ScopedRequest, child: str) -> HttpResponse:
    return _tap(request, child, services.sign_in_child, _("%(child)s is here."))


@scoped(*STAFF, write=STAFF)
@require_POST
def sign_out_child(request: ScopedRequest, child: str) -> HttpResponse:
    return _tap(request, child, services.sign_out_child, _("%(child)s has left."))


def _tap(request: ScopedRequest, public_id: str, service: Callable[..., Attendance], done: str) -> HttpResponse:
    """Carry out one tap. There is no form to show again: a refusal is said on Today."""
    child = own(Child, request.visit.provider, public_id)
    key = request.POST.get("submission_key", "")[:64]
    try:
        service(**request.visit.writer, now=now(), child=child, submission_key=key)
        messages.success(request, done % {"child": child})
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(reverse("provider:today", args=[request.visit.provider.slug]))
