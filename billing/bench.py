"""Measures of what theme runs cost, run by `manage.py bench`."""

from datetime import date
from decimal import Decimal
from functools import cache
from itertools import count

from django.urls import reverse

from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import Acquisition, Keeping, Material, Placement, PutAway, Theme, ThemeRun
from provider.bench import Bed, Result, empty_page_ms, measure, median_ms, queries_of
from provider.models import ProviderRow
from provider.periods import DateSpan

MATERIALS = 5_000
LOTS_A_RUN = 60
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
    met = taken < 500
    return Result(
        "run_cost_sheet", round(taken, 2), queries, round(floor, 2), round(taken / floor, 2), "under 500 ms", met
    )


@cache
def _stocked(bed: Bed) -> list[ThemeRun]:
    """Materials with a lot each, twelve themes that come round every year, and what lay out in each run."""
    provider = bed.provider
    materials = [
        Material(
            provider=provider,
            name=f"Material {number}",
            keeping=Keeping.CONSUMABLE if number % 5 == 0 else Keeping.DURABLE,
        )
        for number in range(MATERIALS)
    ]
    _save(materials)
    first = date(bed.today.year - bed.years, 1, 1)
    pieces = Decimal(bed.years + 1)
    lots = [
        Acquisition(
            provider=provider,
            material=material,
            on=first,
            how="bought",
            quantity=pieces,
            basis=Decimal("24.00"),
            expected_uses=30,
        )
        for material in materials
    ]
    _save(lots)
    themes = [Theme(provider=provider, name=f"Theme {month}") for month in range(1, 13)]
    _save(themes)
    spans = [
        DateSpan.month(year, month)
        for year in range(first.year, bed.today.year + 1)
        for month in range(1, 13)
        if date(year, month, 1) <= bed.today
    ]
    runs = [
        ThemeRun(provider=provider, theme=themes[span.start.month - 1], start=span.start, end=span.end)
        for span in spans
    ]
    _save(runs)
    placements = [
        Placement(provider=provider, run=run, lot=lots[run.start.month * LOTS_A_RUN + number], quantity=Decimal(1))
        for run in runs
        for number in range(LOTS_A_RUN)
    ]
    _save(placements)
    _save(
        [
            PutAway(
                provider=provider,
                placement=each,
                on=each.run.end,
                **{"used_up" if each.lot.material.keeping == Keeping.CONSUMABLE else "returned": Decimal(1)},
            )
            for each in placements
            if each.run.end <= bed.today
        ]
    )
    receipts = [Receipt(provider=provider, shop="Shop", bill_date=run.start, total=Decimal("30.00")) for run in runs]
    _save(receipts)
    number = count(1)
    _save(
        [
            ReceiptLine(
                provider=provider,
                receipt=receipt,
                position=next(number),
                description="Supplies",
                amount=Decimal("30.00"),
                cost=Decimal("30.00"),
                category="craft_supplies",
                target=Target.RUN,
                run=run,
            )
            for receipt, run in zip(receipts, runs, strict=True)
        ]
    )
    return runs


def _save(rows: list[ProviderRow] | list[object]) -> None:
    type(rows[0]).objects.bulk_create(rows, batch_size=BATCH)
