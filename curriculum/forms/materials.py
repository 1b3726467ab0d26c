"""Forms for materials, lots, placements and put-away counts."""

from decimal import Decimal
from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from curriculum.models import How, Keeping, Material
from curriculum.selectors.themes import centres_in_order
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.models import Provider
from provider.money import ZERO

KINDS = {Keeping.DURABLE: _("Durable"), Keeping.CONSUMABLE: _("Used up")}


class PiecesField(forms.DecimalField):
    """A number of pieces, with up to three decimals for what is measured."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"min_value": 0, "max_digits": 9, "decimal_places": 3, **kwargs})

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class CountField(PiecesField):
    """A number of pieces; an empty box says none."""

    def clean(self, value: Any) -> Decimal:
        return super().clean(0 if value in self.empty_values else value)


class CostField(MoneyFormField):
    """Money that may be left out for nothing."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def clean(self, value: Any) -> Decimal:
        return super().clean(value) or ZERO


class MaterialForm(DeskForm):
    name = forms.CharField(max_length=120, label=_("Name"))
    keeping = forms.ChoiceField(
        choices=Keeping, initial=Keeping.DURABLE, widget=forms.RadioSelect, label=_("How it is kept")
    )
    unit = forms.CharField(
        max_length=30,
        initial="piece",
        label=_("Counted in"),
        help_text=_("What one of it is called: piece, set, sheet"),
    )
    place = forms.CharField(
        required=False, max_length=120, label=_("Where it is kept"), help_text=_("Room, shelf, bin")
    )
    note = forms.CharField(
        required=False,
        max_length=5000,
        widget=forms.Textarea,
        label=_("Notes"),
        help_text=_("Age mark, small parts, care, what broke before"),
    )


class LotForm(DeskForm):
    how = forms.ChoiceField(choices=How, initial=How.SECOND_HAND, label=_("How it came"))
    on = DayField(label=_("When it came"))
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))
    basis = CostField(label=_("What it cost you"), help_text=_("Nothing for what was given"))
    expected_uses = forms.IntegerField(
        min_value=1,
        max_value=999,
        initial=5,
        label=_("Runs it should last"),
        help_text=_("Its cost is shared out over them"),
    )
    residual = CostField(
        label=_("Value at the end"), help_text=_("What it should still be worth after the last of them")
    )
    source = forms.CharField(required=False, max_length=120, label=_("Shop or donor"))
    note = forms.CharField(required=False, max_length=5000, widget=forms.Textarea, label=_("Notes"))

    def __init__(self, *args: Any, material: Material, has_receipt: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].help_text = _("Counted in: %(unit)s") % {"unit": material.unit}
        if material.keeping == Keeping.CONSUMABLE:
            del self.fields["expected_uses"], self.fields["residual"]
        if has_receipt:
            self.fields["basis"].disabled = True
            self.fields["basis"].help_text = _("Stands on its receipt; correct it there")


class VoidForm(DeskForm):
    reason = forms.CharField(max_length=200, label=_("Why"))


class PlaceForm(DeskForm):
    centre = RowChoice(required=False, label=_("Centre"), empty_label=_("No centre"))
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))

    def __init__(self, *args: Any, provider: Provider, free: Decimal, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = centres_in_order(provider)  # type: ignore[attr-defined]
        self.fields["quantity"].initial = free
        self.fields["quantity"].help_text = _("Counted in: %(unit)s") % {"unit": unit}


class PutAwayForm(DeskForm):
    returned = CountField(label=_("Back on the shelf"))
    used_up = CountField(label=_("Used up"))
    broken = CountField(label=_("Broken"))
    missing = CountField(label=_("Missing"))
    on = DayField(label=_("Counted on"))
    note = forms.CharField(required=False, max_length=200, label=_("Note"))

    def __init__(self, *args: Any, keeping: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if keeping == Keeping.DURABLE:
            del self.fields["used_up"]


class MaterialFilter(django_filters.FilterSet):
    word = django_filters.CharFilter(method="by_word", label=_("Word"))
    place = django_filters.CharFilter(lookup_expr="icontains", label=_("Place"))
    keeping = django_filters.ChoiceFilter(choices=list(KINDS.items()), label=_("Kind"), empty_label=_("Any"))

    class Meta:
        model = Material
        fields = ["word", "place", "keeping"]

    def by_word(self, materials: QuerySet[Material], _name: str, value: str) -> QuerySet[Material]:
        """Materials with every word somewhere in their name or notes."""
        for part in value.split():
            materials = materials.filter(Q(name__icontains=part) | Q(note__icontains=part))
        return materials
