"""The owner's settings: business, rooms, opening hours, closures, people with logins, history."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.attendance import ReasonForm
from provider.forms.base import DeskForm
from provider.forms.settings import (
    BusinessForm,
    ClosureForm,
    HistoryFilter,
    MemberForm,
    NewRoomForm,
    OpeningHoursForm,
    RoomForm,
    RoomUseForm,
)
from provider.hours import instants
from provider.models import Closure, Membership, Room
from provider.periods import ONE_DAY, DateSpan
from provider.selectors import home as selectors
from provider.services import accounts, home
from provider.services.home import OpeningInput
from provider.tables import HistoryTable
from provider.views.pages import act, show_form


@scoped(OWNER)
def settings(request: ScopedRequest) -> HttpResponse:
    provider, today = request.visit.provider, request.visit.today
    context = {
        "opening": selectors.opening_on(provider, today),
        "opening_changes": selectors.opening_changes(provider, today),
        "rooms": selectors.room_list(provider, today),
    }
    return render(request, "provider/settings/overview.html", context)


@scoped(OWNER)
def business(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    form = BusinessForm(request.POST or None, provider=provider, initial=BusinessForm.of(provider))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.update_business(**request.visit.writer, version=form.cleaned_data["version"], **form.values()),
            done=_("Saved."),
            go=lambda _row: _url(request, "settings"),
        )
        if response:
            return response
    return _page(request, form, _("The business"), _("Save the business"))


@scoped(OWNER)
def room_add(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    form = NewRoomForm(request.POST or None, provider=provider, initial={"start": provider.opened_on})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.add_room(**request.visit.writer, **form.values()),
            done=_("The room is saved."),
            go=lambda _row: _url(request, "settings"),
        )
        if response:
            return response
    return _page(request, form, _("Add a room"), _("Save the room"))


@scoped(OWNER)
def room_change(request: ScopedRequest, room: str) -> HttpResponse:
    row = own(Room, request.visit.provider, room)
    form = RoomForm(request.POST or None, provider=request.visit.provider, initial=RoomForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.change_room(
                **request.visit.writer, room=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda _row: _url(request, "settings"),
        )
        if response:
            return response
    return _page(request, form, row.name, _("Save the room"))


@scoped(OWNER)
def room_use(request: ScopedRequest, room: str) -> HttpResponse:
    row = own(Room, request.visit.provider, room)
    form = RoomUseForm(request.POST or None, initial={"start": request.visit.today})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.change_room_use(**request.visit.writer, room=row, **form.values()),
            done=_("Saved."),
            go=lambda _row: _url(request, "settings"),
        )
        if response:
            return response
    return _page(request, form, _("Use of %(room)s") % {"room": row}, _("Save the use"))


@scoped(OWNER)
def opening_hours(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    days = [(day.weekday, day.opens, day.closes, "every") for day in selectors.opening_on(visit.provider, visit.today)]
    initial = {"start": visit.today, **OpeningHoursForm.week_initial(days)}
    form = OpeningHoursForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.set_opening_hours(
                **visit.writer,
                start=form.cleaned_data["start"],
                opening=[OpeningInput(each.weekday, each.begins, each.ends) for each in form.week_choices],
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The opening hours are saved."),
            go=lambda _row: _url(request, "settings"),
        )
        if response:
            return response
    return _page(request, form, _("Opening hours"), _("Save the hours"), template="provider/settings/week_form.html")


@scoped(OWNER)
def closures(request: ScopedRequest) -> HttpResponse:
    rows = selectors.closures(request.visit.provider)
    return render(request, "provider/settings/closures.html", {"closures": rows})


@scoped(OWNER)
def closure_add(request: ScopedRequest) -> HttpResponse:
    form = ClosureForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.add_closure(
                **request.visit.writer,
                end=(form.cleaned_data["last_day"] or form.cleaned_data["start"]) + ONE_DAY,
                **{**form.values("last_day"), "paid": form.cleaned_data["paid"] == "yes"},
            ),
            done=_("The closure is saved."),
            go=lambda _row: _url(request, "closures"),
        )
        if response:
            return response
    return _page(request, form, _("Add a closure"), _("Save the closure"), "closures", _("Closures"))


@scoped(OWNER)
def closure_void(request: ScopedRequest, closure: str) -> HttpResponse:
    row = own(Closure, request.visit.provider, closure)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: home.void_closure(**request.visit.writer, closure=row, **form.values()),
            done=_("Taken out. You are open on these days."),
            go=lambda _row: _url(request, "closures"),
        )
        if response:
            return response
    title = _("Be open after all? (%(reason)s)") % {"reason": row.reason}
    return _page(request, form, title, _("Take the closure out"), "closures", _("Closures"), danger=True)


@scoped(OWNER)
def people(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/settings/people.html", {"members": selectors.members(request.visit.provider)})


@scoped(OWNER)
def member_add(request: ScopedRequest) -> HttpResponse:
    form = MemberForm(request.POST or None, provider=request.visit.provider)
    password = accounts.temporary_password()
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: accounts.add_member(
                **request.visit.writer,
                role=form.cleaned_data["role"],
                household=form.cleaned_data["household"],
                login=accounts.LoginInput(
                    form.cleaned_data["username"], password, form.cleaned_data["name"], form.cleaned_data["email"]
                ),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The login is saved."),
            go=lambda member: _tell_password(request, member, password),
        )
        if response:
            return response
    return _page(request, form, _("Let somebody in"), _("Make the login"), "people", _("People"))


@scoped(OWNER)
def member_password(request: ScopedRequest, member: str) -> HttpResponse:
    row = own(Membership.objects.select_related("user"), request.visit.provider, member)
    form = DeskForm(request.POST or None)
    password = accounts.temporary_password()
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: accounts.renew_password(
                **request.visit.writer,
                member=row,
                password=password,
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The password is changed."),
            go=lambda member: _tell_password(request, member, password),
        )
        if response:
            return response
    title = _("A new password for %(user)s?") % {"user": row.user}
    lead = _("The old one stops working at once.")
    return _page(request, form, title, _("Make a new password"), "people", _("People"), lead=lead)


def _tell_password(request: ScopedRequest, member: Membership, password: str) -> str:
    """Show the password this once. After a second click it is not the one that was set: then say nothing."""
    if member.user.check_password(password):
        messages.info(
            request,
            _("First password of %(username)s, shown only now: %(password)s")
            % {"username": member.user.get_username(), "password": password},
        )
    return _url(request, "people")


@scoped(OWNER)
def history(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    form = HistoryFilter(request.GET or None)
    rows = selectors.history(provider)
    if form.is_valid() and (day := form.cleaned_data["day"]):
        begin, end = instants(DateSpan.day(day), provider.zone)
        rows = rows.filter(at__gte=begin, at__lt=end)
    table = HistoryTable(rows)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "provider/settings/history.html", {"table": table, "filters": form})


def _url(request: ScopedRequest, name: str) -> str:
    return reverse(f"provider:{name}", args=[request.visit.provider.slug])


def _page(
    request: ScopedRequest,
    form: Any,
    title: str,
    submit: str,
    back: str = "settings",
    back_label: str = "",
    template: str = "provider/form_page.html",
    **context: Any,
) -> HttpResponse:
    link = (_url(request, back), back_label or _("Settings"))
    return show_form(request, template, form, title=title, submit=submit, back=link, **context)
