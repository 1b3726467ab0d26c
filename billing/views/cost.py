"""What a theme run cost: a fragment for the theme's page, or a page of its own."""

from collections.abc import Iterable

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers

from billing.selectors.theme_cost import ThemeCost, costs_of_year
from curriculum.models import ThemeRun
from provider.access import BOOKS, ScopedRequest, own, scoped
from provider.money import format_money
from provider.templatetags.frame import SYMBOL, Bar


def cost_bars(costs: Iterable[ThemeCost], now: ThemeRun | None = None) -> list[Bar]:
    """Runs side by side for `bar_chart`; `now` is the one looked at."""
    return [Bar(cost.run.theme.name, cost.total, format_money(cost.total, SYMBOL), cost.run == now) for cost in costs]


@scoped(*BOOKS)
def run_cost(request: ScopedRequest, public_id: str) -> HttpResponse:
    visit = request.visit
    run: ThemeRun = own(ThemeRun.objects.select_related("theme"), visit.provider, public_id)
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
