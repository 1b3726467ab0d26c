"""Measures of what theme runs cost, run by `manage.py bench`."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from functools import cache
from itertools import pairwise

from django.urls import reverse

from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import Acquisition, How, Keeping, Material, Placement, PutAway, Theme, ThemeRun
from provider.bench import Bed, Result, empty_page_ms, measure, median_ms, queries_of
from provider.models import Provider, ProviderRow

MATERIALS = 5_000
LOTS_A_RUN = 60
LIMIT_MS = 500
BATCH = 500


@measure
def run_cost_sheet(bed: Bed) -> Result:
    """The page of a run's cost sheet, with a stock of 5,000 materials and a run in each month of the years."""
    last = _stocked(bed)[-1]
    bed.client.force_login(bed.owner, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("billing:cost_sheet", args=[bed.provider.slug, last.public_id])

    def look() -> None:
        if bed.client.get(address).status_code != 200:
            raise AssertionError("the page that was measured was not shown")

    look()  # imports and templates are loaded once
    queries, taken, floor = queries_of(look), median_ms(look for _n in range(7)), empty_page_ms(bed)
    ratio, aim = round(taken / floor, 2), f"under {LIMIT_MS} ms"
    return Result("run_cost_sheet", round(taken, 2), queries, round(floor, 2), ratio, aim, taken < LIMIT_MS)


@cache
def _stocked(bed: Bed) -> list[ThemeRun]:
    """The runs of twelve themes that come round every year; each theme has its own lots, which lie out every time."""
    first = date(bed.today.year - bed.years, 1, 1)
    lots = _lots(bed.provider, first, Decimal(bed.years + 1))
    runs = _runs(bed.provider, first, bed.today)
    placements = [
        Placement(provider=bed.provider, run=run, lot=lot, quantity=Decimal(1))
        for run in runs
        for lot in lots[run.start.month * LOTS_A_RUN :][:LOTS_A_RUN]
    ]
    _save(placements)
    over = [each for each in placements if each.run.end <= bed.today]
    _save([PutAway(provider=bed.provider, placement=each, on=each.run.end, **_count(each)) for each in over])
    _charge(runs)
    return runs


def _lots(provider: Provider, on: date, quantity: Decimal) -> list[Acquisition]:
    """A lot of each material; every fifth is used up."""
    keeping = [Keeping.CONSUMABLE, *[Keeping.DURABLE] * 4]
    materials = [Material(provider=provider, name=f"Material {n}", keeping=keeping[n % 5]) for n in range(MATERIALS)]
    _save(materials)
    facts = {"on": on, "how": How.BOUGHT, "quantity": quantity, "basis": Decimal("24.00"), "expected_uses": 30}
    lots = [Acquisition(provider=provider, material=material, **facts) for material in materials]
    _save(lots)
    return lots


def _runs(provider: Provider, first: date, today: date) -> list[ThemeRun]:
    themes = [Theme(provider=provider, name=f"Theme {month}") for month in range(1, 13)]
    _save(themes)
    starts = [date(year, month, 1) for year in range(first.year, today.year + 2) for month in range(1, 13)]
    runs = [
        ThemeRun(provider=provider, theme=themes[start.month - 1], start=start, end=end)
        for start, end in pairwise(starts)
        if start <= today
    ]
    _save(runs)
    return runs


def _count(placement: Placement) -> dict[str, Decimal]:
    is_used_up = placement.lot.material.keeping == Keeping.CONSUMABLE
    return {"used_up" if is_used_up else "returned": placement.quantity}


def _charge(runs: Sequence[ThemeRun]) -> None:
    """A receipt of one line for each run."""
    cost = Decimal("30.00")
    receipts = [Receipt(provider=run.provider, shop="Shop", bill_date=run.start, total=cost) for run in runs]
    _save(receipts)
    facts = {"position": 1, "description": "Supplies", "amount": cost, "cost": cost, "category": "craft_supplies"}
    _save(
        [
            ReceiptLine(provider=run.provider, receipt=receipt, target=Target.RUN, run=run, **facts)
            for receipt, run in zip(receipts, runs, strict=True)
        ]
    )


def _save(rows: Sequence[ProviderRow]) -> None:
    type(rows[0])._default_manager.bulk_create(rows, batch_size=BATCH)
