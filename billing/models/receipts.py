"""Store receipts: what was bought, how it was paid, and what each line is for."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from curriculum.models import Acquisition, ThemeRun
from provider.fields import MoneyField, ScaledField, ShareField
from provider.models import ProviderRow, StoredFile


class Receipt(ProviderRow):
    """A filed store receipt. Its lines add up to `total`; `discount` and `tax` are those of the whole slip.

    A return is a receipt with negative lines that points back at the purchase (`returns`).
    """

    shop = models.CharField(max_length=120)
    bill_date = models.DateField(help_text=_("Date printed on the receipt"))
    paid_date = models.DateField(null=True, blank=True)
    total = MoneyField()
    tax = MoneyField(default=Decimal("0.00"))
    discount = MoneyField(default=Decimal("0.00"))
    note = models.TextField(blank=True)
    paper = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="receipts")
    returns = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="returned_by")
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)
    void_reason = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        indexes = [models.Index(fields=["provider", "bill_date"], name="receipt_by_date")]

    def __str__(self) -> str:
        return f"{self.shop}, {self.bill_date:%Y-%m-%d}"


class PaidBy(models.TextChoices):
    CASH = "cash", _("Cash")
    DEBIT = "debit", _("Debit card")
    CREDIT = "credit", _("Credit card")
    TRANSFER = "transfer", _("Bank transfer")
    CHEQUE = "cheque", _("Cheque")
    GIFT_CARD = "gift_card", _("Gift card")


class Tender(ProviderRow):
    """One way in which a receipt was paid; a receipt's tenders add up to its total."""

    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, related_name="tenders")
    paid_by = models.CharField(max_length=10, choices=PaidBy)
    amount = MoneyField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(paid_by__in=PaidBy.values), name="tender_kind_known")]

    def __str__(self) -> str:
        return self.get_paid_by_display()


class ShareRule(models.TextChoices):
    BUSINESS = "business", _("Business")
    SHARED = "shared", _("Shared with the household")
    PERSONAL = "personal", _("Personal")


class ShareBasis(models.TextChoices):
    HOME = "home", _("Home share (area and hours)")
    MEASURED = "measured", _("Measured use")
    FIXED = "fixed", _("Fixed percent")


class Target(models.TextChoices):
    NONE = "none", _("Nothing in particular")
    RUN = "run", _("A theme")
    LOT = "lot", _("A material that lasts")
    ASSET = "asset", _("Equipment (asset)")
    HOUSEHOLD = "household", _("The household")


class Asset(ProviderRow):
    """A durable thing kept in the books for several years, such as furniture. Depreciation follows the tax rules."""

    name = models.CharField(max_length=120)
    in_service_on = models.DateField()
    note = models.TextField(blank=True)
    disposed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["provider", "name"], name="asset_name_once")]

    def __str__(self) -> str:
        return self.name


class ReceiptLine(ProviderRow):
    """One line of a receipt.

    `amount` is as printed, before tax and whole-receipt discount; `cost` is what the line cost in the end
    (amount - its part of the discount + its part of the tax), split to the cent when the receipt is filed.
    A shared line stores the basis of its share: the home share is looked up when it is needed, a measured or
    fixed share is `share` with its `share_reason`.
    """

    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    description = models.CharField(max_length=200)
    quantity = ScaledField(places=3, default=Decimal("1.000"))
    amount = MoneyField()
    taxable = models.BooleanField(default=True)
    cost = MoneyField()
    category = models.CharField(max_length=40)
    share_rule = models.CharField(max_length=10, choices=ShareRule, default=ShareRule.BUSINESS)
    share_basis = models.CharField(max_length=10, choices=ShareBasis, blank=True)
    share = ShareField(null=True, blank=True)
    share_reason = models.CharField(max_length=200, blank=True)
    target = models.CharField(max_length=10, choices=Target, default=Target.NONE)
    run = models.ForeignKey(ThemeRun, on_delete=models.PROTECT, null=True, blank=True, related_name="receipt_lines")
    lot = models.ForeignKey(Acquisition, on_delete=models.PROTECT, null=True, blank=True, related_name="receipt_lines")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, null=True, blank=True, related_name="receipt_lines")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["receipt", "position"], name="receipt_line_position_once"),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="receipt_line_quantity_positive"),
            models.CheckConstraint(condition=models.Q(share_rule__in=ShareRule.values), name="receipt_line_rule_known"),
            models.CheckConstraint(
                condition=models.Q(target=Target.RUN, run__isnull=False, lot__isnull=True, asset__isnull=True)
                | models.Q(target=Target.LOT, run__isnull=True, lot__isnull=False, asset__isnull=True)
                | models.Q(target=Target.ASSET, run__isnull=True, lot__isnull=True, asset__isnull=False)
                | models.Q(
                    target__in=[Target.NONE, Target.HOUSEHOLD], run__isnull=True, lot__isnull=True, asset__isnull=True
                ),
                name="receipt_line_one_target",
            ),
            models.CheckConstraint(
                condition=models.Q(share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME, share__isnull=True)
                | models.Q(
                    share_rule=ShareRule.SHARED,
                    share_basis__in=[ShareBasis.MEASURED, ShareBasis.FIXED],
                    share__gte=Decimal(0),
                    share__lte=Decimal(1),
                )
                & ~models.Q(share_reason="")
                | models.Q(share_rule__in=[ShareRule.BUSINESS, ShareRule.PERSONAL], share_basis="", share__isnull=True),
                name="receipt_line_share_has_a_basis",
            ),
        ]

    def __str__(self) -> str:
        return self.description
