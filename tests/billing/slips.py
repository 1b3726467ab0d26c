"""Receipts as tests type them: into the service and into the form."""

from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any

from PIL import Image

from billing.models import Receipt
from billing.services.receipts import LineInput, ReceiptInput, file_receipt
from provider.models import Provider

TODAY = date(2025, 3, 14)


def line(amount: str, **fields: Any) -> LineInput:
    return LineInput(
        **{"description": "Felt sheets", "category": "craft_supplies", **fields, "amount": Decimal(amount)}
    )


def slip(total: str, *lines: LineInput, **fields: Any) -> ReceiptInput:
    for name in ("tax", "discount"):
        if name in fields:
            fields[name] = Decimal(fields[name])
    return ReceiptInput(
        **{"shop": "Corner paper shop", "bill_date": TODAY, **fields, "total": Decimal(total), "lines": lines}
    )


def filed(provider: Provider, receipt: ReceiptInput, today: date = TODAY, **fields: Any) -> Receipt:
    return file_receipt(provider=provider, actor=None, today=today, receipt=receipt, **fields)


def typed(*rows: dict[str, str], blank: int = 0, **fields: str) -> dict[str, str]:
    """A posted form; a row with `taxable` left out is taxed, as on a fresh page."""
    post = {
        "shop": "Corner paper shop",
        "bill_date": TODAY.isoformat(),
        "paid_by": "debit",
        "total": "12.00",
        "tax": "",
        "discount": "",
        "submission_key": "one-form",
        "tenders-TOTAL_FORMS": "0",
        "tenders-INITIAL_FORMS": "0",
        "lines-TOTAL_FORMS": str(len(rows) + blank),
        "lines-INITIAL_FORMS": "0",
        **fields,
    }
    for index, row in enumerate(rows):
        whole = {
            "description": "Felt sheets",
            "quantity": "1",
            "category": "craft_supplies",
            "target": "none",
            "share_rule": "business",
            "taxable": "on",
            **row,
        }
        post |= {f"lines-{index}-{name}": value for name, value in whole.items()}
    return post


def photo(kind: str = "JPEG", size: tuple[int, int] = (60, 90), **options: Any) -> bytes:
    kept = BytesIO()
    Image.new("RGB", size, "ivory").save(kept, kind, **options)
    return kept.getvalue()
