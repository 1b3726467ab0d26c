"""The waiting list, from asking to the place."""

from datetime import date, time
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider.access import OWNER, ScopedRequest, own, scoped
from provider.errors import DomainError
from provider.forms.waiting import EnrolWaitingForm, WaitingForm
from provider.models import Child, WaitingChild, WaitStatus
from provider.periods import ONE_DAY
from provider.selectors.waiting import OPEN, waiting_list
from provider.services import waiting as services
from provider.services.families import PatternInput
from provider.views.capacity import warn_if_over
from provider.views.pages import act, show_form


@scoped(OWNER)
def waiting(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    context = {"rows": waiting_list(provider), "closed": waiting_list(provider, closed=True)}
    return render(request, "provider/waiting/list.html", context)


@scoped(OWNER)
def waiting_add(request: ScopedRequest) -> HttpResponse:
    today = request.visit.today
    first = {"asked_on": today, "weekdays": list("01234"), "arrives": time(8), "leaves": time(17)}
    form = WaitingForm(request.POST or None, initial=first)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_waiting(**request.visit.writer, **form.values()),
            done=_("The child is on the list."),
            go=lambda _row: _list_url(request),
        )
        if response:
            return response
    return _page(request, form, _("A child for the waiting list"), _("Save"))


@scoped(OWNER)
def waiting_change(request: ScopedRequest, waiting: str) -> HttpResponse:
    row = own(WaitingChild, request.visit.provider, waiting)
    form = WaitingForm(request.POST or None, initial=WaitingForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_waiting(
                **request.visit.writer, waiting=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda _row: _list_url(request),
        )
        if response:
            return response
    return _page(request, form, str(row), _("Save"))


@scoped(OWNER, write=(OWNER,))
@require_POST
def waiting_turn(request: ScopedRequest, waiting: str, status: str) -> HttpResponse:
    """Offer a place, take off the list or put back: one button, so a refusal is said on the list."""
    row = own(WaitingChild, request.visit.provider, waiting)
    key = request.POST.get("submission_key", "")[:64]
    try:
        turned = services.turn_waiting(**request.visit.writer, waiting=row, status=status, submission_key=key)
        messages.success(request, f"{turned}: {turned.get_status_display()}")
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(_list_url(request))


@scoped(OWNER)
def waiting_enrol(request: ScopedRequest, waiting: str) -> HttpResponse:
    provider = request.visit.provider
    row = own(WaitingChild.objects.filter(status__in=(*OPEN, WaitStatus.ENROLLED)), provider, waiting)
    form = EnrolWaitingForm(request.POST or None, provider=provider, initial=EnrolWaitingForm.of_waiting(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.enrol_waiting(
                **request.visit.writer,
                waiting=row,
                end=form.cleaned_data["last_day"] and form.cleaned_data["last_day"] + ONE_DAY,
                pattern=[PatternInput(each.weekday, each.begins, each.ends, each.cycle) for each in form.week_choices],
                **{
                    name: form.cleaned_data[name]
                    for name in (
                        "household",
                        "family_name",
                        "guardian_name",
                        "phone",
                        "email",
                        "name",
                        "birth_date",
                        "start",
                        "submission_key",
                    )
                },
            ),
            done=_("The place is saved."),
            go=lambda child: _placed(request, child, form.cleaned_data["start"]),
        )
        if response:
            return response
    title = _("A place for %(child)s") % {"child": row}
    return _page(request, form, title, _("Save the place"), template="provider/families/place.html")


def _placed(request: ScopedRequest, child: Child, start: date) -> str:
    warn_if_over(request, child, start)
    return reverse("provider:child", args=[request.visit.provider.slug, child.public_id])


def _list_url(request: ScopedRequest) -> str:
    return reverse("provider:waiting", args=[request.visit.provider.slug])


def _page(
    request: ScopedRequest, form: Any, title: str, submit: str, template: str = "provider/form_page.html"
) -> HttpResponse:
    back = (_list_url(request), _("Waiting list"))
    return show_form(request, template, form, title=title, submit=submit, back=back)
