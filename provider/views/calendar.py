"""The calendar by month, and closing on public holidays."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from provider.access import OWNER, STAFF, ScopedRequest, scoped
from provider.forms.calendar import HolidaysForm
from provider.selectors.calendar import calendar_month, holiday_rows
from provider.services.holidays import close_on_holidays
from provider.views.months import month_turn
from provider.views.pages import act, show_form

# The years for which holidays can be told.
FIRST_YEAR, LAST_YEAR = 2000, 2100


@scoped(*STAFF)
def calendar(request: ScopedRequest) -> HttpResponse:
    return _month(request, request.visit.today.year, request.visit.today.month)


@scoped(*STAFF)
def calendar_month_page(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    return _month(request, year, month)


def _month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    visit = request.visit
    _check_year(year)
    turn = month_turn(year, month)
    days = calendar_month(visit.provider, turn.span, visit.today, _language())
    context = {"turn": turn, "days": days, "today": visit.today, "may_write": visit.may_write}
    return render(request, "provider/calendar/month.html", context)


@scoped(OWNER)
def holidays(request: ScopedRequest, year: int) -> HttpResponse:
    visit = request.visit
    _check_year(year)
    rows = holiday_rows(visit.provider, year, _language())
    form = HolidaysForm(request.POST or None, rows=rows or [])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: close_on_holidays(
                **visit.writer,
                year=year,
                days=form.cleaned_data["days"],
                paid=form.is_paid,
                language=_language(),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("You are closed on these holidays."),
            go=lambda _rows: reverse("provider:holidays", args=[visit.provider.slug, year]),
        )
        if response:
            return response
    ticked = set(form["days"].value() or ()) if form.is_bound else _usual(rows)
    return show_form(request, "provider/calendar/holidays.html", form, year=year, rows=rows, ticked=ticked)


def _usual(rows: list | None) -> set[str]:
    """Holidays on which the house would be open are ticked to begin with."""
    return {row.holiday.day.isoformat() for row in rows or () if row.is_open and not row.closure}


def _check_year(year: int) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Http404(_("No such year."))


def _language() -> str:
    """The reader's language for names of holidays; the country's own English otherwise."""
    language = get_language() or ""
    return "" if language.startswith("en") else language
