"""Money, Food programme: taking part, and the claim of a month on a page and as a file."""

import csv
from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from billing.food import food_rules
from billing.forms.food import ProgrammeForm
from billing.models import FoodProgramme
from billing.selectors.food_claim import meal_months, month_claim, programmes_of, reason_words
from billing.services import food as services
from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.cells import plain
from provider.models import Country, MealKind
from provider.periods import DateSpan
from provider.views.months import month_turn
from provider.views.pages import act, show_form


@scoped(*BOOKS)
def overview(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    if provider.country != Country.US:
        return render(request, "billing/food/elsewhere.html")
    context = {"programmes": programmes_of(provider), "months": meal_months(provider)}
    return render(request, "billing/food/overview.html", context)


@scoped(*BOOKS)
def month(request: ScopedRequest, first: date) -> HttpResponse:
    _must_be_us(request)
    turn = month_turn(first.year, first.month)
    context = {
        "turn": turn,
        "month": month_claim(request.visit.provider, turn.span),
        "combinations": food_rules().combinations,
        "ages": food_rules().ages,
    }
    return render(request, "billing/food/month.html", context)


@scoped(*BOOKS)
def month_file(request: ScopedRequest, first: date) -> HttpResponse:
    """Every meal of the month as CSV, claimed or not and why."""
    _must_be_us(request)
    provider = request.visit.provider
    claim = month_claim(provider, DateSpan.month(first.year, first.month))
    name = f"{provider.slug}-food-{first:%Y-%m}.csv"
    response = HttpResponse(
        content_type="text/csv; charset=utf-8", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
    response.write("\N{BYTE ORDER MARK}")
    writer = csv.writer(response)
    writer.writerow([_("Day"), _("Child"), _("Meal"), _("Tier"), _("Claimed"), _("Not claimed because")])
    for each in claim.lines:
        line = each.line
        writer.writerow(
            [
                line.day.isoformat(),
                plain(each.child.name),
                MealKind(line.kind).label,
                line.tier,
                line.amount,
                reason_words(line.not_claimed) if line.not_claimed else "",
            ]
        )
    return response


@scoped(OWNER)
def join(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    _must_be_us(request)
    form = ProgrammeForm(request.POST or None, initial={"start": visit.today.replace(day=1)})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.join_food_programme(**visit.writer, **form.programme()),
            done=_("Saved."),
            go=lambda _row: _overview_url(request),
        )
        if response:
            return response
    return _page(request, form, _("Take part in the food programme"))


@scoped(OWNER)
def change(request: ScopedRequest, programme: str) -> HttpResponse:
    visit = request.visit
    row = own(FoodProgramme, visit.provider, programme)
    form = ProgrammeForm(request.POST or None, initial=ProgrammeForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_food_programme(
                **visit.writer, programme=row, version=form.cleaned_data["version"] or 0, **form.programme()
            ),
            done=_("Saved."),
            go=lambda _row: _overview_url(request),
        )
        if response:
            return response
    return _page(request, form, _("Food programme"))


def _must_be_us(request: ScopedRequest) -> None:
    if request.visit.provider.country != Country.US:
        raise Http404(_("The food programme is one of the United States."))


def _overview_url(request: ScopedRequest) -> str:
    return reverse("billing:food", args=[request.visit.provider.slug])


def _page(request: ScopedRequest, form: ProgrammeForm, title: str) -> HttpResponse:
    back = (_overview_url(request), _("Food programme"))
    return show_form(request, "provider/form_page.html", form, title=title, submit=_("Save"), back=back)
