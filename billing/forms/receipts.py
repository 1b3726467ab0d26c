"""The receipt form: the slip, the ways it was paid, and its lines as rows that can be added, split and taken away."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as now
from django.utils.translation import gettext_lazy as _

from billing.models import PaidBy, Receipt, ReceiptLine, ShareBasis, ShareRule, Target
from billing.rulebook import categories
from billing.selectors.receipts import Offer
from billing.services.receipts import LineInput, LineRefused, NewThing, ReceiptInput, TenderInput
from billing.splitting import split_line
from curriculum.models import ShoppingItem
from provider.errors import DomainError
from provider.fields import MoneyFormField, MoneyInput
from provider.forms.base import DayField, DeskForm
from provider.money import ZERO, NotMoney, format_money, parse_money, round_half_up

BLANK_ROWS = 3
MOST_ROWS = 200
OTHER_WAYS = 2
PAPER_TYPES = "image/jpeg,image/png,image/heic,image/heif,.heic,.heif,application/pdf"
NO_PERCENT = _("Enter a percent from 0 to 100.")
TREATMENTS = {
    "expense": _("Everyday costs"),
    "food": _("Food"),
    "asset": _("Furniture and equipment"),
    "vehicle": _("Vehicle"),
    "household": _("Bills of the home"),
}


def category_choices() -> list[Any]:
    """All categories, grouped by how they are treated."""
    groups = [
        (
            label,
            [(category.code, now(category.name)) for category in categories().values() if category.treatment == kind],
        )
        for kind, label in TREATMENTS.items()
    ]
    return [("", _("Choose …")), *groups]


class BlankUntilTyped(forms.Form):
    """A row that counts only when one of its `telling` boxes was filled in."""

    telling: tuple[str, ...] = ()
    error_css_class = "has-error"
    use_required_attribute = False

    def has_changed(self) -> bool:
        return any(str(self[name].data or "").strip() for name in self.telling)


class LineForm(BlankUntilTyped):
    telling = ("description", "amount")

    description = forms.CharField(label=_("What"), max_length=200)
    quantity = forms.DecimalField(
        label=_("Quantity"), initial=1, max_digits=9, decimal_places=3, widget=forms.TextInput({"inputmode": "decimal"})
    )
    amount = MoneyFormField(
        label=_("Amount"), allow_negative=True, widget=MoneyInput({"data-plus": "lines", "data-halve": ""})
    )
    category = forms.ChoiceField(label=_("Kind of cost"), choices=category_choices, required=False)
    target = forms.ChoiceField(label=_("For"))
    share_rule = forms.ChoiceField(label=_("Who uses it"), choices=ShareRule, initial=ShareRule.BUSINESS)
    share_basis = forms.ChoiceField(
        label=_("Business share by"), choices=[("", _("Choose …")), *ShareBasis.choices], required=False
    )
    percent = forms.DecimalField(
        label=_("Business percent"),
        required=False,
        min_value=0,
        max_value=100,
        decimal_places=2,
        error_messages={"min_value": NO_PERCENT, "max_value": NO_PERCENT, "invalid": NO_PERCENT},
        widget=forms.TextInput({"inputmode": "decimal"}),
    )
    share_reason = forms.CharField(label=_("Why this percent"), max_length=200, required=False)
    new_name = forms.CharField(
        label=_("Name of the new thing"),
        max_length=120,
        required=False,
        widget=forms.TextInput({"list": "known-materials", "autocomplete": "off"}),
    )
    new_uses = forms.IntegerField(
        label=_("Themes it should last"), required=False, initial=6, min_value=1, max_value=999
    )
    second_hand = forms.BooleanField(label=_("Second hand"), required=False)
    taxable = forms.BooleanField(label=_("Taxed"), required=False, initial=True)

    def __init__(self, *args: Any, offer: Offer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        target = self.fields["target"]
        assert isinstance(target, forms.ChoiceField)
        target.choices = offer.targets
        target.initial = offer.default_target

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        if cleaned.get("share_rule") == ShareRule.PERSONAL:
            # The theme is preselected for every line, and the kind of cost of what is personal does not matter.
            cleaned["target"], cleaned["category"] = Target.HOUSEHOLD, cleaned.get("category") or "other"
            self.errors.pop("target", None)
        elif "category" in cleaned and not cleaned["category"]:
            self.add_error("category", _("Choose what kind of cost it is."))
        return cleaned

    def to_input(self, sign: int) -> LineInput:
        cleaned = self.cleaned_data
        target, _colon, target_id = cleaned["target"].partition(":")
        shared = cleaned["share_rule"] == ShareRule.SHARED
        by_percent = shared and cleaned["share_basis"] in (ShareBasis.MEASURED, ShareBasis.FIXED)
        percent = cleaned["percent"]
        return LineInput(
            description=cleaned["description"],
            amount=sign * cleaned["amount"],
            category=cleaned["category"],
            quantity=cleaned["quantity"],
            taxable=cleaned["taxable"],
            share_rule=cleaned["share_rule"],
            share_basis=cleaned["share_basis"] if shared else "",
            share=round_half_up(percent / 100, 4) if by_percent and percent is not None else None,
            share_reason=cleaned["share_reason"] if by_percent else "",
            target=target,
            target_id="" if target_id == "new" else target_id,
            new=NewThing(cleaned["new_name"], cleaned["new_uses"] or 0, cleaned["second_hand"])
            if target_id == "new"
            else None,
        )


class TenderForm(BlankUntilTyped):
    telling = ("amount",)

    paid_by = forms.ChoiceField(label=_("Also paid by"), choices=PaidBy, initial=PaidBy.CASH)
    amount = MoneyFormField(label=_("Amount paid this way"))


class Rows(forms.BaseFormSet[Any]):
    """Rows that are all new to Django: which of them exist is the service's business."""

    def initial_form_count(self) -> int:
        return 0

    def total_form_count(self) -> int:
        return super().total_form_count() if self.is_bound else len(self.initial or ())

    @property
    def typed(self) -> list[Any]:
        """The rows that count, in order."""
        return [form for form in self.forms if form.has_changed()]


_MOST: dict[str, Any] = {"extra": 0, "max_num": MOST_ROWS, "absolute_max": MOST_ROWS + 1, "validate_max": True}
LineRows: Any = forms.formset_factory(LineForm, formset=Rows, **_MOST)
TenderRows: Any = forms.formset_factory(TenderForm, formset=Rows, **_MOST)


@dataclass(frozen=True, slots=True)
class Sums:
    """How far the lines are from the total, from whatever can be read of what was typed."""

    text: str
    is_even: bool


class ReceiptForm(DeskForm):
    """One slip. For a return every amount is typed as it was given back, without a minus."""

    # Said here and, while she types, by the page's script.
    even = _("The lines add up to the total.")
    short = _("{amount} is still missing on the lines.")
    over = _("The lines are {amount} too much.")

    shop = forms.CharField(
        label=_("Shop"), max_length=120, widget=forms.TextInput({"list": "known-shops", "autocomplete": "off"})
    )
    bill_date = DayField(label=_("Date on the receipt"))
    paid_by = forms.ChoiceField(label=_("Paid by"), choices=PaidBy, initial=PaidBy.DEBIT)
    total = MoneyFormField(label=_("Total"), widget=MoneyInput({"data-equals": "lines"}))
    tax = MoneyFormField(label=_("Sales tax"), required=False, widget=MoneyInput({"data-plus": "lines"}))
    discount = MoneyFormField(
        label=_("Discount on the whole receipt"), required=False, widget=MoneyInput({"data-minus": "lines"})
    )
    file = forms.FileField(
        label=_("Photo or PDF of the receipt"), required=False, widget=forms.FileInput({"accept": PAPER_TYPES})
    )
    photo = forms.FileField(
        label=_("Take a photo"), required=False, widget=forms.FileInput({"accept": "image/*", "capture": "environment"})
    )
    paper = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)
    paid_date = DayField(label=_("Paid on another day"), required=False)
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea({"rows": 2}))

    def __init__(
        self,
        data: Any = None,
        *,
        offer: Offer,
        is_return: bool = False,
        initial: Mapping[str, Any] | None = None,
        rows: Sequence[Mapping[str, Any]] = (),
        other_ways: Sequence[Mapping[str, Any]] = (),
    ) -> None:
        super().__init__(data, initial=dict(initial or {}))
        self.is_return = is_return
        self.lines = LineRows(data, prefix="lines", initial=rows or [{}] * BLANK_ROWS, form_kwargs={"offer": offer})
        missing = max(OTHER_WAYS - len(other_ways), 0)
        self.tenders = TenderRows(data, prefix="tenders", initial=[*other_ways, *([{}] * missing)])

    def is_valid(self) -> bool:
        return all([super().is_valid(), self.tenders.is_valid(), self.lines.is_valid()])

    def has_problems(self) -> bool:
        return self.is_bound and any([self.errors, self.tenders.total_error_count(), self.lines.total_error_count()])

    def add_domain_error(self, error: DomainError) -> None:
        if not isinstance(error, LineRefused):
            super().add_domain_error(error)
            return
        row = self.lines.typed[error.index]
        name = "percent" if error.field == "share" else error.field
        row.add_error(name if name in row.fields else None, error.message)

    def to_input(self) -> ReceiptInput:
        cleaned = self.cleaned_data
        sign = -1 if self.is_return else 1
        others = [
            TenderInput(row.cleaned_data["paid_by"], sign * row.cleaned_data["amount"]) for row in self.tenders.typed
        ]
        return ReceiptInput(
            shop=cleaned["shop"],
            bill_date=cleaned["bill_date"],
            paid_date=cleaned["paid_date"],
            total=sign * cleaned["total"],
            tax=sign * (cleaned["tax"] or ZERO),
            discount=sign * (cleaned["discount"] or ZERO),
            note=cleaned["note"],
            paper=cleaned["paper"],
            tenders=[TenderInput(cleaned["paid_by"]), *others],
            lines=[row.to_input(sign) for row in self.lines.typed],
        )

    @property
    def pays_otherwise(self) -> bool:
        """Whether the boxes for other ways and days of paying have something to show."""
        return any(str(row["amount"].value() or "") or row.errors for row in self.tenders) or bool(
            self["paid_date"].value() or self["note"].value() or "paid_date" in self.errors
        )

    @property
    def sums(self) -> Sums | None:
        """What the page says about the sum; nothing before a total was typed."""
        total = _readable(self["total"].value())
        if not total:
            return None
        lines = sum((_readable(row["amount"].value()) for row in self.lines), ZERO)
        gap = total - (lines + _readable(self["tax"].value()) - _readable(self["discount"].value()))
        text = self.even if gap == 0 else self.short if gap > 0 else self.over
        return Sums(str(text).replace("{amount}", format_money(abs(gap))), gap == 0)


def rework(data: QueryDict, act: str) -> dict[str, Any]:
    """All that was typed, after one act on the rows: `add`, `split-N` or `remove-N` (N from 0).

    Returns the arguments of a fresh form, so that half-typed rows are not yet called wrong.
    """
    rows = _typed_rows(data, "lines", LineForm)
    verb, _dash, number = act.partition("-")
    if verb == "add":
        rows.append({})
    elif (index := _count(number)) is not None and index < len(rows):
        row = rows.pop(index)
        if verb == "split":
            amount = _readable(row["amount"])
            halves = split_line(amount, 2) if amount else [row["amount"], ""]
            rows[index:index] = [{**row, "amount": str(half)} for half in halves]
    return {
        "initial": {name: data.get(name, "") for name in ReceiptForm.base_fields if name not in ("file", "photo")},
        "rows": rows,
        "other_ways": _typed_rows(data, "tenders", TenderForm),
    }


def as_typed(receipt: Receipt, lines: Iterable[ReceiptLine], *, is_return: bool = False) -> dict[str, Any]:
    """A filed receipt as the form shows it, amounts without a minus when it is (or will be) a return."""
    sign = -1 if receipt.returns_id else 1
    first, *others = receipt.tenders.order_by("pk")
    initial = {
        "shop": receipt.shop,
        "bill_date": receipt.bill_date,
        "paid_by": first.paid_by,
        "total": sign * receipt.total,
        "tax": sign * receipt.tax or "",
        "discount": sign * receipt.discount or "",
    }
    if not is_return:
        initial |= {
            "paper": receipt.paper.public_id if receipt.paper else "",
            "paid_date": receipt.paid_date,
            "note": receipt.note,
            "version": receipt.version,
        }
    return {
        "initial": initial,
        "rows": [_line_as_typed(line, sign) for line in lines],
        "other_ways": [] if is_return else [{"paid_by": way.paid_by, "amount": sign * way.amount} for way in others],
    }


def as_listed(items: Sequence[ShoppingItem], day: date) -> dict[str, Any]:
    """A new receipt of `day`, with a line for each item of a shopping list: what is kept goes into stock, the rest to
    the run. What each cost is read from the slip."""
    initial: dict[str, Any] = {"bill_date": day}
    shops = {item.shop for item in items if item.shop}
    if len(shops) == 1:
        initial["shop"] = shops.pop()
    rows = [
        {
            "description": item.text,
            "quantity": f"{item.quantity.normalize():f}",
            "target": "lot:new" if item.material else f"{Target.RUN}:{item.run.public_id}",
            **({"new_name": item.material.name} if item.material else {}),
        }
        for item in items
    ]
    return {"initial": initial, "rows": rows}


def _line_as_typed(line: ReceiptLine, sign: int) -> dict[str, Any]:
    row = line.run or line.lot or line.asset
    return {
        "description": line.description,
        "quantity": f"{line.quantity.normalize():f}",
        "amount": sign * line.amount,
        "category": line.category,
        "target": f"{line.target}:{row.public_id}" if row else line.target,
        "share_rule": line.share_rule,
        "share_basis": line.share_basis,
        "percent": "" if line.share is None else f"{(line.share * 100).normalize():f}",
        "share_reason": line.share_reason,
        "taxable": line.taxable,
    }


def _typed_rows(data: QueryDict, prefix: str, form: type[BlankUntilTyped]) -> list[dict[str, Any]]:
    count = _count(data.get(f"{prefix}-TOTAL_FORMS", "")) or 0
    return [
        {
            name: f"{prefix}-{index}-{name}" in data
            if isinstance(box, forms.BooleanField)
            else data.get(f"{prefix}-{index}-{name}", "")
            for name, box in form.base_fields.items()
        }
        for index in range(min(count, MOST_ROWS))
    ]


def _count(text: str) -> int | None:
    """A number of rows; None for what no page of ours sends (Python refuses to read thousands of digits)."""
    return int(text) if text.isdecimal() and len(text) < 6 else None


def _readable(typed: Any) -> Decimal:
    try:
        return parse_money(str(typed or ""))
    except NotMoney:
        return ZERO
