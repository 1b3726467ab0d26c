"""Attendance by day and by month, and what is added or corrected afterwards."""

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.dateparse import parse_date
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.access import STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.attendance import (
    AbsenceForm,
    CorrectAbsenceForm,
    CorrectStayForm,
    NoteForm,
    ReasonForm,
    StayForm,
)
from provider.models import Attendance
from provider.periods import ONE_DAY
from provider.selectors.attendance import day_sheet, month_grid
from provider.selectors.sheets import trail_of
from provider.services import attendance as services
from provider.views.months import day_of, month_turn
from provider.views.pages import act, show_form

ROWS = Attendance.objects.filter(voided_at__isnull=True).select_related("child")


@scoped(*STAFF)
def attendance(request: ScopedRequest) -> HttpResponse:
    return _day(request, request.visit.today)


@scoped(*STAFF)
def attendance_day(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    return _day(request, day_of(year, month, day))


def _day(request: ScopedRequest, day: date) -> HttpResponse:
    context = {
        "sheet": day_sheet(request.visit.provider, day),
        "before": day - ONE_DAY,
        "after": day + ONE_DAY,
        "is_past": day <= request.visit.today,
    }
    return render(request, "provider/attendance/day.html", context)


@scoped(*STAFF)
def attendance_month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    turn = month_turn(year, month)
    context = {"turn": turn, "grid": month_grid(request.visit.provider, turn.span)}
    return render(request, "provider/attendance/month.html", context)


@scoped(*STAFF, write=STAFF)
def attendance_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = StayForm(request.POST or None, provider=visit.provider, initial=_asked(request))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_stay(
                **visit.writer,
                now=now(),
                child=form.cleaned_data["child"],
                day=form.cleaned_data["day"],
                submission_key=form.cleaned_data["submission_key"],
                **form.times(form.cleaned_data["day"], visit.provider.zone),
            ),
            done=_("Recorded."),
            go=lambda row: _day_url(visit.provider.slug, row.day),
        )
        if response:
            return response
    return _page(request, form, _("Add a stay"), _("Save the stay"))


@scoped(*STAFF, write=STAFF)
def attendance_absent(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = AbsenceForm(request.POST or None, provider=visit.provider, initial=_asked(request))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_absence(**visit.writer, now=now(), **form.values()),
            done=_("Recorded as absent."),
            go=lambda row: _day_url(visit.provider.slug, row.day),
        )
        if response:
            return response
    context = {"title": _("Record an absence"), "submit": _("Save the absence"), "back": _back(request)}
    return show_form(request, "provider/attendance/absent.html", form, **context)


@scoped(*STAFF, write=STAFF)
def attendance_change(request: ScopedRequest, attendance: str) -> HttpResponse:
    visit = request.visit
    row = own(ROWS, visit.provider, attendance)
    form: Any
    if row.absence:
        form = CorrectAbsenceForm(request.POST or None, initial=CorrectAbsenceForm.of(row))
    else:
        left = localtime(row.left_at) if row.left_at else None
        initial = {
            **CorrectStayForm.of(row),
            "arrived_at": localtime(row.arrived_at).time(),
            "left_at": left and left.time(),
            "next_day": bool(left and left.date() > row.day),
        }
        form = CorrectStayForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_attendance(
                **visit.writer,
                now=now(),
                attendance=row,
                version=form.cleaned_data["version"],
                reason=form.cleaned_data["reason"],
                submission_key=form.cleaned_data["submission_key"],
                **(
                    {name: form.cleaned_data[name] for name in ("absence", "note")}
                    if row.absence
                    else form.times(row.day, visit.provider.zone)
                ),
            ),
            done=_("Corrected. The history keeps what it was."),
            go=lambda saved: _day_url(visit.provider.slug, saved.day),
        )
        if response:
            return response
    trail = trail_of(row, visit.provider)
    return _page(request, form, str(row.child), _("Save the correction"), row=row, trail=trail)


@scoped(*STAFF, write=STAFF)
def attendance_note(request: ScopedRequest, attendance: str) -> HttpResponse:
    visit = request.visit
    row = own(ROWS, visit.provider, attendance)
    form = NoteForm(request.POST or None, initial=NoteForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.note_attendance(
                **visit.writer, attendance=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Noted."),
            go=lambda saved: _day_url(visit.provider.slug, saved.day),
        )
        if response:
            return response
    return _page(request, form, _("Note for %(child)s") % {"child": row.child}, _("Save the note"))


@scoped(*STAFF, write=STAFF)
def attendance_void(request: ScopedRequest, attendance: str) -> HttpResponse:
    visit = request.visit
    row = own(Attendance.objects.select_related("child"), visit.provider, attendance)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_attendance(**visit.writer, attendance=row, **form.values()),
            done=_("Taken out. The history keeps it."),
            go=lambda saved: _day_url(visit.provider.slug, saved.day),
        )
        if response:
            return response
    title = _("Take out the record of %(child)s?") % {"child": row.child}
    return _page(request, form, title, _("Take it out"), danger=True, lead=_("It no longer counts anywhere."))


def _asked(request: ScopedRequest) -> dict[str, Any]:
    """The child and the day that a link proposes."""
    try:
        day = parse_date(request.GET.get("day", ""))
    except ValueError:
        day = None
    return {"child": request.GET.get("child", ""), "day": day or request.visit.today}


def _day_url(slug: str, day: date) -> str:
    return reverse("provider:attendance_day", args=[slug, day.year, day.month, day.day])


def _page(request: ScopedRequest, form: Any, title: str, submit: str, **context: Any) -> HttpResponse:
    context |= {"title": title, "submit": submit, "back": _back(request)}
    return show_form(request, "provider/attendance/form.html", form, **context)


def _back(request: ScopedRequest) -> tuple[str, str]:
    return reverse("provider:attendance", args=[request.visit.provider.slug]), _("Attendance")
