"""Forms for a set bought for one price, and for a thing from the household."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import CostField, PiecesField
from curriculum.models import How, Keeping, Material
from curriculum.services.intake import Part
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm

MOST_PARTS = 8
BOUGHT = [(How.SECOND_HAND, How.SECOND_HAND.label), (How.BOUGHT, How.BOUGHT.label)]


class FromHomeForm(DeskForm):
    on = DayField(label=_("First used for the children on"))
    quantity = PiecesField(min_value=Decimal("0.001"), initial=1, label=_("How many"))
    cost = MoneyFormField(label=_("What it cost your household"), help_text=_("All of it, with what was added since"))
    fair_value = MoneyFormField(
        label=_("What it was worth that day"), help_text=_("What a stranger would have paid for all of it")
    )
    expected_uses = forms.IntegerField(min_value=1, max_value=999, initial=5, label=_("Runs it should last"))
    residual = CostField(label=_("Value at the end"))
    note = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea, label=_("Notes"), help_text=_("How you know both")
    )

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].help_text = _("Counted in: %(unit)s") % {"unit": material.unit}
        if material.keeping == Keeping.CONSUMABLE:
            del self.fields["expected_uses"], self.fields["residual"]


class PartForm(forms.Form):
    """One kind of thing in the set; an empty row counts for nothing."""

    error_css_class = "has-error"
    use_required_attribute = False

    name = forms.CharField(
        max_length=120,
        label=_("What"),
        widget=forms.TextInput({"list": "known-materials", "autocomplete": "off"}),
    )
    estimate = MoneyFormField(label=_("Alone it would cost"))
    quantity = PiecesField(min_value=Decimal("0.001"), initial=1, label=_("How many"))


PartRows = forms.formset_factory(PartForm, extra=MOST_PARTS, max_num=MOST_PARTS, absolute_max=MOST_PARTS)


class SetForm(DeskForm):
    price = MoneyFormField(label=_("Price of the whole set"))
    how = forms.ChoiceField(choices=BOUGHT, initial=How.SECOND_HAND, label=_("How it came"))
    on = DayField(label=_("When it came"))
    source = forms.CharField(required=False, max_length=120, label=_("Shop or seller"))
    expected_uses = forms.IntegerField(min_value=1, max_value=999, initial=5, label=_("Runs it should last"))
    note = forms.CharField(required=False, max_length=2000, widget=forms.Textarea({"rows": 2}), label=_("Notes"))

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.parts = PartRows(data, prefix="parts")

    def clean(self) -> dict[str, Any]:
        if not self.parts.is_valid():
            self.add_error(None, _("Something is missing, or wrong, in what was in it."))
        return self.cleaned_data

    def values(self, *leave_out: str) -> dict[str, Any]:
        typed = [row.cleaned_data for row in self.parts if row.has_changed()]
        parts = [Part(each["name"], each["estimate"], each["quantity"]) for each in typed]
        return {**super().values(*leave_out), "parts": parts}
