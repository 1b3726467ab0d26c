"""Forms for bins and their labels."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.models import Bin
from curriculum.selectors.bins import bins_in_order
from provider.forms.base import DeskForm
from provider.models import Provider


class BinForm(DeskForm):
    label = forms.CharField(max_length=40, label=_("Label"), help_text=_("A number or word: B4, Dress-up"))
    room = forms.CharField(required=False, max_length=80, label=_("Room"))
    shelf = forms.CharField(required=False, max_length=80, label=_("Shelf"))
    note = forms.CharField(required=False, max_length=200, label=_("Note"))


class LabelsForm(forms.Form):
    """Which bins get a label; sent by GET, for a sheet changes nothing."""

    bins: forms.ModelMultipleChoiceField[Bin] = forms.ModelMultipleChoiceField(
        None,
        to_field_name="public_id",
        widget=forms.CheckboxSelectMultiple,
        label=_("Bins"),
        error_messages={"required": _("Choose at least one bin.")},
    )

    error_css_class = "has-error"
    use_required_attribute = False

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bins"].queryset = bins_in_order(provider)  # type: ignore[attr-defined]
