"""The Year end door: the years, one year, its workbook, its choices, closing and reopening it."""

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _

from billing.forms.year import ChoicesForm, CloseForm, ReopenForm
from billing.selectors.home_share import share_for
from billing.selectors.year import YearResult, choices_for, lock_of_year, ran_in, year_result, years_of
from billing.services.years import choose_for_year, close_year
from billing.views.cost import cost_bars
from billing.workbook import build_workbook
from billing.workbook.year import NoTaxRules, home_words
from provider.access import BOOKS, OWNER, ScopedRequest, scoped
from provider.models import PeriodLock
from provider.services.locks import lift_lock
from provider.views.pages import act, show_form

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@scoped(*BOOKS)
def year_end(request: ScopedRequest) -> HttpResponse:
    years = years_of(request.visit.provider, request.visit.today)
    return render(request, "billing/year/list.html", {"years": years})


@scoped(*BOOKS)
def year(request: ScopedRequest, year: int) -> HttpResponse:
    result = _result(request, year)
    context = {"result": result, "home_words": home_words(result.home), "bars": cost_bars(result.themes)}
    return render(request, "billing/year/year.html", context)


@scoped(*BOOKS)
def home(request: ScopedRequest, year: int) -> HttpResponse:
    """The share of the home with its arithmetic: a fragment for the page of hours, or a page of its own."""
    _must_be_a_year(request, year)
    share = share_for(request.visit.provider, year, request.visit.today)
    is_fragment = "HX-Request" in request.headers
    response = render(
        request,
        "billing/year/home.html" if is_fragment else "billing/year/home_page.html",
        {"home": share, "home_words": home_words(share), "year": year},
    )
    patch_vary_headers(response, ["HX-Request"])
    return response


@scoped(*BOOKS)
def workbook(request: ScopedRequest, year: int) -> HttpResponse:
    try:
        content = build_workbook(_result(request, year))
    except NoTaxRules as error:
        raise Http404(error.message) from error
    return HttpResponse(
        content,
        headers={
            "Content-Type": XLSX,
            "Content-Disposition": f'attachment; filename="{request.visit.provider.slug}-{year}.xlsx"',
        },
    )


@scoped(OWNER)
def choices(request: ScopedRequest, year: int) -> HttpResponse:
    visit = request.visit
    _must_be_a_year(request, year)
    form = ChoicesForm(request.POST or None, choices=choices_for(visit.provider, year))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: choose_for_year(
                **visit.writer, year=year, version=form.cleaned_data["version"] or 0, **form.values()
            ),
            done=_("Choices saved."),
            go=lambda row: _address(request, year),
        )
        if response:
            return response
    return show_form(request, "billing/year/choices.html", form, year=year)


@scoped(OWNER)
def close(request: ScopedRequest, year: int) -> HttpResponse:
    """The year's figures once more, then the reason."""
    visit = request.visit
    result = _result(request, year)
    if result.lock and request.method == "GET":
        return HttpResponseRedirect(_address(request, year))
    form = CloseForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: close_year(**visit.writer, year=year, **form.values()),
            done=_("%(year)s is closed.") % {"year": year},
            go=lambda lock: _address(request, year),
        )
        if response:
            return response
    return show_form(request, "billing/year/close.html", form, result=result)


@scoped(OWNER)
def reopen(request: ScopedRequest, year: int) -> HttpResponse:
    visit = request.visit
    lock: PeriodLock | None = lock_of_year(visit.provider, year)
    if lock is None:
        return HttpResponseRedirect(_address(request, year))
    form = ReopenForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: lift_lock(**visit.writer, lock=lock, **form.values()),
            done=_("%(year)s is open again.") % {"year": year},
            go=lambda row: _address(request, year),
        )
        if response:
            return response
    return show_form(request, "billing/year/reopen.html", form, year=year, lock=lock)


def _result(request: ScopedRequest, year: int) -> YearResult:
    _must_be_a_year(request, year)
    return year_result(request.visit.provider, year, request.visit.today)


def _must_be_a_year(request: ScopedRequest, year: int) -> None:
    """404 for a year in which the business did not run."""
    if not ran_in(request.visit.provider, year, request.visit.today):
        raise Http404(_("The business did not run in this year."))


def _address(request: ScopedRequest, year: int) -> str:
    return reverse("billing:year", args=[request.visit.provider.slug, year])
