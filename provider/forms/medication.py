"""Signed instructions and doses."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm
from provider.forms.safety import MomentField


class MedicationForm(DeskForm):
    name = forms.CharField(label=_("Medicine"), max_length=120)
    dose = forms.DecimalField(
        label=_("Amount each time"),
        min_value=Decimal("0.01"),
        max_value=Decimal(10_000),
        decimal_places=2,
        widget=forms.TextInput({"inputmode": "decimal"}),
    )
    unit = forms.CharField(label=_("Unit"), max_length=20, help_text=_("ml, drops, tablets"))
    most_per_day = forms.IntegerField(label=_("At most a day"), min_value=1, max_value=24, initial=1)
    hours_between = forms.IntegerField(label=_("Fewest hours between two doses"), min_value=0, max_value=48, initial=4)
    start = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"))
    reason = forms.CharField(label=_("What it is for"), required=False, max_length=200)
    signed_by = forms.CharField(label=_("Signed by"), max_length=120, help_text=_("A parent or guardian"))
    signed_on = DayField(label=_("Signed on"))
    file = forms.FileField(
        label=_("Photo or PDF of the signed paper"),
        required=False,
        widget=forms.FileInput({"accept": "image/*,application/pdf"}),
    )

    def values(self, *leave_out: str) -> dict[str, Any]:
        """A person says the last day, the books the first day without."""
        return {
            **super().values("last_day", "file", *leave_out),
            "end": self.cleaned_data["last_day"] + timedelta(days=1),
        }


class DoseForm(DeskForm):
    """A dose now, or one written down afterwards. The question comes only when there is something to ask."""

    amount = forms.DecimalField(
        label=_("Amount"),
        min_value=Decimal(0),
        max_value=Decimal(10_000),
        decimal_places=2,
        widget=forms.TextInput({"inputmode": "decimal"}),
    )
    at = MomentField(label=_("When"))
    given_by = forms.CharField(label=_("Given by"), max_length=120)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)
    anyway = forms.BooleanField(label=_("Record it anyway"), required=False)
    outside_because = forms.CharField(label=_("Why it was outside the instruction"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            for name in ("anyway", "outside_because"):
                self.fields[name].widget = forms.HiddenInput()

    def because(self) -> str:
        """The answer to the question; a reason without the tick is none, so that nothing slips through."""
        return self.cleaned_data["outside_because"] if self.cleaned_data["anyway"] else ""

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("anyway") and not data.get("outside_because"):
            self.add_error("outside_because", _("Say why, so that it can be understood later."))
        return data


class CorrectDoseForm(DoseForm):
    amount = forms.DecimalField(
        label=_("Amount"),
        min_value=Decimal(0),
        max_value=Decimal(10_000),
        decimal_places=2,
        widget=forms.TextInput({"inputmode": "decimal"}),
        help_text=_("0 when it was not given after all"),
    )
    note = forms.CharField(label=_("Why it is corrected"), max_length=200)
