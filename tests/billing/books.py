"""A small year with something of everything that the year end gathers."""

from datetime import date
from decimal import Decimal
from typing import Any

from billing.models import (
    Allocation,
    Invoice,
    Method,
    Payment,
    Receipt,
    ReceiptLine,
    Series,
    ShareBasis,
    ShareRule,
    Target,
)
from curriculum.models import Placement, PutAway, ThemeRun
from provider.models import Guardian, Provider
from tests.factories import (
    make_asset,
    make_attendance,
    make_child,
    make_enrolment,
    make_guardian,
    make_household,
    make_lot,
    make_room,
    make_run,
    make_work,
)

HOME = {"share_rule": ShareRule.SHARED, "share_basis": ShareBasis.HOME}
PERSONAL = {"share_rule": ShareRule.PERSONAL}


def fixed(share: str) -> dict[str, Any]:
    return {
        "share_rule": ShareRule.SHARED,
        "share_basis": ShareBasis.FIXED,
        "share": Decimal(share),
        "share_reason": "Counted for a month",
    }


def file_receipt(
    provider: Provider,
    on: date,
    *lines: tuple[str, str, dict[str, Any]],
    shop: str = "Corner shop",
    **fields: Any,
) -> Receipt:
    """A receipt of lines (category, cost, other fields)."""
    total = sum(Decimal(cost) for _category, cost, _fields in lines)
    receipt = Receipt.objects.create(
        provider=provider, shop=shop, bill_date=on, **{"paid_date": on, "total": total, **fields}
    )
    for position, (category, cost, others) in enumerate(lines, 1):
        ReceiptLine.objects.create(
            provider=provider,
            receipt=receipt,
            position=position,
            category=category,
            amount=Decimal(cost),
            cost=Decimal(cost),
            **{"description": f"{category} {position}", **others},
        )
    return receipt


def issue(guardian: Guardian, number: int, start: date, end: date, total: str, **fields: Any) -> Invoice:
    return Invoice.objects.create(
        provider=guardian.provider,
        household=guardian.household,
        guardian=guardian,
        number=number,
        covers_start=start,
        covers_end=end,
        total=Decimal(total),
        issuer_name=guardian.provider.name,
        payer_name=guardian.name,
        **{"series": Series.INVOICE, "year": start.year, "issued_on": start, "due_on": start, **fields},
    )


def pay(invoice: Invoice, on: date, amount: str, **fields: Any) -> Payment:
    payment = Payment.objects.create(
        provider=invoice.provider,
        household=invoice.household,
        on=on,
        amount=Decimal(amount),
        method=Method.TRANSFER,
        **fields,
    )
    Allocation.objects.create(provider=invoice.provider, payment=payment, invoice=invoice, amount=Decimal(amount))
    return payment


def to(run: ThemeRun) -> dict[str, Any]:
    return {"target": Target.RUN, "run": run}


def make_year(provider: Provider, year: int = 2025) -> None:
    """Three months of care, themes, receipts of every kind, invoices and payments."""
    us = provider.country == "US"
    make_room(provider, "400.00" if us else "40.00")
    make_room(provider, "120.50" if us else "12.50", use="exclusive")
    child = make_child(make_household(provider))
    make_enrolment(child, start=date(year, 1, 1))
    guardian = make_guardian(child.household)
    lot = make_lot(provider, "47.99", expected_uses=3)
    for month in (1, 2, 3):
        first, following = date(year, month, 1), date(year, month + 1, 1)
        run = make_run(provider, first, following)
        placement = Placement.objects.create(provider=provider, run=run, lot=lot, quantity=Decimal(1))
        for day in range(6, 26):
            make_attendance(child, date(year, month, day), 8, 17)
        make_work(provider, date(year, month, 10), 16, 20)
        invoice = issue(guardian, month, first, following, "812.35")
        if month < 3:
            pay(invoice, date(year, month, 5), "812.35")
        file_receipt(
            provider,
            date(year, month, 7),
            ("craft_supplies", "31.17", to(run)),
            ("cleaning", "12.49", HOME),
            ("toys_books", "9.99", fixed("0.3333")),
            ("cleaning", "8.05", PERSONAL),
        )
    PutAway.objects.create(
        provider=provider, placement=placement, on=date(year, 3, 31), broken=Decimal(1), returned=Decimal(0)
    )
    file_receipt(
        provider,
        date(year, 2, 14),
        ("food", "64.20", {}),
        ("vehicle", "40.00", {}),
        ("furniture_equipment", "210.00", {"target": Target.ASSET, "asset": make_asset(provider)}),
        shop="=cmd()",
    )
    file_receipt(provider, date(year, 3, 20), ("craft_supplies", "-5.17", to(run)), shop="+1")
    file_receipt(provider, date(year, 12, 30), ("office", "15.00", {}), shop="@x", paid_date=date(year + 1, 1, 4))
