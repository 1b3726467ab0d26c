"""What a theme run cost, in short (a fragment for the theme's page, or a page) and as a sheet; and what will come."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from billing.selectors.cost_sheet import cost_sheet
from billing.selectors.cost_sheet import forecast as forecast_of
from billing.selectors.theme_cost import KIND_NAMES, ThemeCost, costs_of_year
from curriculum.models import ThemeRun
from provider.access import BOOKS, ScopedRequest, own, scoped
from provider.documents import page_pdf
from provider.money import format_money
from provider.templatetags.frame import SYMBOL, Bar


def cost_bars(costs: Iterable[ThemeCost], now: ThemeRun | None = None) -> list[Bar]:
    """Runs side by side for `bar_chart`; `now` is the one looked at."""
    return [Bar(cost.run.theme.name, cost.total, format_money(cost.total, SYMBOL), cost.run == now) for cost in costs]


@scoped(*BOOKS)
def run_cost(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    run: ThemeRun = own(ThemeRun.objects.live().select_related("theme"), visit.provider, public_id)
    costs = costs_of_year(visit.provider, run.start.year, visit.today)
    cost = next(each for each in costs if each.run == run)
    is_fragment = "HX-Request" in request.headers
    response = render(
        request,
        "billing/cost/fragment.html" if is_fragment else "billing/cost/run.html",
        {"cost": cost, "costs": costs, "bars": cost_bars(costs, now=run)},
    )
    patch_vary_headers(response, ["HX-Request"])
    return response


@scoped(*BOOKS)
def sheet(request: ScopedRequest, public_id: str) -> HttpResponse:
    return render(request, "billing/cost/sheet.html", _sheet(request, public_id))


@scoped(*BOOKS)
def sheet_pdf(request: ScopedRequest, public_id: str) -> HttpResponse:
    context = _sheet(request, public_id)
    run = context["sheet"].run
    pdf = page_pdf(
        "billing/documents/cost_sheet.html",
        title=_("Cost sheet of %(theme)s") % {"theme": run.theme},
        issuer=request.visit.provider.name,
        style="billing/cost_sheet.css",
        **context,
    )
    name = f"{request.visit.provider.slug}-theme-cost-{run.start}.pdf"
    headers = {"Content-Type": "application/pdf", "Content-Disposition": f'inline; filename="{name}"'}
    return HttpResponse(pdf, headers=headers)


@scoped(*BOOKS)
def forecast(request: ScopedRequest) -> HttpResponse:
    found = forecast_of(request.visit.provider, request.visit.today)
    bars = [
        Bar(date_format(month.first, "YEAR_MONTH_FORMAT"), month.total, format_money(month.total, SYMBOL))
        for month in found.months
    ]
    return render(request, "billing/cost/forecast.html", {"forecast": found, "bars": bars})


def _sheet(request: ScopedRequest, public_id: str) -> dict[str, Any]:
    """What the page and the paper of a cost sheet show."""
    visit = request.visit
    run: ThemeRun = own(ThemeRun.objects.live().select_related("theme"), visit.provider, public_id)
    found = cost_sheet(visit.provider, run, visit.today)
    by_kind = ((name, found.cost.of_kind(kind)) for kind, name in KIND_NAMES.items())
    return {
        "sheet": found,
        "kind_bars": [Bar(str(name), amount, format_money(amount, SYMBOL)) for name, amount in by_kind if amount],
        "run_bars": [
            Bar(
                date_format(each.run.run.start, "YEAR_MONTH_FORMAT"),
                each.cost.total,
                format_money(each.cost.total, SYMBOL),
                now=each.run.run == run,
            )
            for each in found.earlier
        ],
        "caution": _(
            "A management figure with reuse charges. It is not the tax deduction: a tax preparer decides what may be "
            "claimed, and when."
        ),
    }
