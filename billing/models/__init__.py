from billing.models.receipts import Asset, PaidBy, Receipt, ReceiptLine, ShareBasis, ShareRule, Target, Tender
from billing.models.tuition import (
    Agreement,
    Allocation,
    Invoice,
    InvoiceLine,
    Method,
    NumberCounter,
    Payer,
    Payment,
    RatePeriod,
    Series,
)
from billing.models.year import FoodProgramme, Rounding, TaxBasis, TaxYear

__all__ = [
    "Agreement",
    "Allocation",
    "Asset",
    "FoodProgramme",
    "Invoice",
    "InvoiceLine",
    "Method",
    "NumberCounter",
    "PaidBy",
    "Payer",
    "Payment",
    "RatePeriod",
    "Receipt",
    "ReceiptLine",
    "Rounding",
    "Series",
    "ShareBasis",
    "ShareRule",
    "Target",
    "TaxBasis",
    "TaxYear",
    "Tender",
]
