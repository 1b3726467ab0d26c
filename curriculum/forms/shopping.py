"""Forms of the shopping list."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import PiecesField
from curriculum.models import Material, ShoppingItem, ThemeRun
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice


class ItemForm(DeskForm):
    text = forms.CharField(max_length=120, label=_("What"))
    quantity = PiecesField(min_value=Decimal("0.001"), initial=1, label=_("How many"))
    material = RowChoice(
        required=False,
        label=_("Material"),
        empty_label=_("None of those I keep"),
        help_text=_("It counts towards the needs, and the receipt puts it into stock"),
    )
    shop = forms.CharField(required=False, max_length=120, label=_("Shop"))
    estimate = MoneyFormField(required=False, label=_("What it should cost in all"))
    ordered_on = DayField(required=False, label=_("On the way since"))
    bought_on = DayField(required=False, label=_("Bought on"))

    def __init__(self, *args: Any, run: ThemeRun, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        materials = Material.objects.filter(provider=run.provider).order_by("name")
        self.fields["material"].queryset = materials  # type: ignore[attr-defined]


class SuggestedForm(DeskForm):
    """One material, or none for all that is suggested."""

    material = RowChoice(required=False)

    def __init__(self, *args: Any, run: ThemeRun, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["material"].queryset = Material.objects.filter(provider=run.provider)  # type: ignore[attr-defined]


class OrderedForm(DeskForm):
    ordered = forms.BooleanField(required=False)


class BoughtForm(DeskForm):
    items: Any = forms.ModelMultipleChoiceField(
        None, to_field_name="public_id", required=False, error_messages={"invalid_choice": _("Tick what is listed.")}
    )

    def __init__(self, *args: Any, run: ThemeRun, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items = ShoppingItem.objects.filter(run=run, voided_at__isnull=True)
        self.fields["items"].queryset = items  # type: ignore[attr-defined]
