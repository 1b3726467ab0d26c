"""Hours worked around the children's day."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from provider.access import BOOKS, HELPER, PREPARER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.attendance import ReasonForm
from provider.forms.hours import AWAY, HOME, WorkForm
from provider.models import WorkEntry, WorkKind
from provider.selectors.hours import running_timer, work_month, work_year
from provider.services import hours as services
from provider.tables import WorkTable
from provider.templatetags.frame import Bar, day
from provider.templatetags.frame import hours as shown_hours
from provider.views.months import month_turn
from provider.views.pages import act, show_form
from provider.views.timer import start_form


@scoped(*STAFF)
def hours(request: ScopedRequest) -> HttpResponse:
    return _month(request, request.visit.today.year, request.visit.today.month)


@scoped(*STAFF)
def hours_month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    return _month(request, year, month)


def _month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    turn = month_turn(year, month)
    work = work_month(request.visit.provider, turn.span)
    table = WorkTable(work.entries, slug=request.visit.provider.slug)
    context = {
        "turn": turn,
        "work": work,
        "table": table,
        "timer": running_timer(request.visit.provider, request.visit.user),
        "timer_form": start_form(request),
        "kinds": WorkKind.choices,
    }
    return render(request, "provider/hours/month.html", context)


@scoped(*STAFF, PREPARER, write=())
def hours_year(request: ScopedRequest, year: int) -> HttpResponse:
    """Hours by month and kind; what they do to the share of the home is billing's to say, to whoever sees the books."""
    visit = request.visit
    if not visit.provider.opened_on.year <= year <= visit.today.year:
        raise Http404(_("The business did not run in this year."))
    work = work_year(visit.provider, year)
    context = {
        "work": work,
        "bars": [Bar(line.name, line.in_home, shown_hours(line.in_home)) for line in work.months],
        "chart_title": _("Hours in the home by month"),
        "before": year - 1 if year > visit.provider.opened_on.year else None,
        "after": year + 1 if year < visit.today.year else None,
        "is_staff": visit.role in STAFF,
        "sees_share": visit.role in BOOKS,
    }
    return render(request, "provider/hours/year.html", context)


@scoped(*STAFF, write=STAFF)
def work_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    # A helper's hours are the helper's unless said otherwise.
    person = str(visit.user) if visit.role == HELPER else ""
    form = WorkForm(request.POST or None, initial={"day": visit.today, "place": HOME, "person": person})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.log_work(**visit.writer, now=now(), **form.entry(visit.provider.zone)),
            done=_("Logged."),
            go=lambda row: _month_url(visit.provider.slug, row),
        )
        if response:
            return response
    return _page(request, form, _("Log work"), _("Save the hours"))


@scoped(*STAFF, write=STAFF)
def work_change(request: ScopedRequest, work: str) -> HttpResponse:
    visit = request.visit
    row = own(WorkEntry.objects.filter(voided_at__isnull=True), visit.provider, work)
    begins, ends = localtime(row.started_at), localtime(row.ended_at)
    initial = {
        **WorkForm.of(row),
        "day": begins.date(),
        "begins": begins.time(),
        "ends": ends.time(),
        "next_day": ends.date() > begins.date(),
        "place": HOME if row.at_home else AWAY,
    }
    form = WorkForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_work(
                **visit.writer,
                now=now(),
                work=row,
                version=form.cleaned_data["version"],
                **form.entry(visit.provider.zone),
            ),
            done=_("Saved."),
            go=lambda saved: _month_url(visit.provider.slug, saved),
        )
        if response:
            return response
    return _page(request, form, _("Correct hours"), _("Save the hours"), row=row)


@scoped(*STAFF, write=STAFF)
def work_void(request: ScopedRequest, work: str) -> HttpResponse:
    visit = request.visit
    row = own(WorkEntry, visit.provider, work)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_work(**visit.writer, work=row, **form.values()),
            done=_("Taken out. The history keeps it."),
            go=lambda saved: _month_url(visit.provider.slug, saved),
        )
        if response:
            return response
    lead = f"{row.get_kind_display()}, {day(row.started_at)}"
    return _page(request, form, _("Take out these hours?"), _("Take them out"), danger=True, lead=lead)


def _month_url(slug: str, row: WorkEntry) -> str:
    day = localtime(row.started_at)
    return reverse("provider:hours_month", args=[slug, day.year, day.month])


def _page(request: ScopedRequest, form: Any, title: str, submit: str, **context: Any) -> HttpResponse:
    back = (reverse("provider:hours", args=[request.visit.provider.slug]), _("Hours"))
    return show_form(request, "provider/hours/form.html", form, title=title, submit=submit, back=back, **context)
