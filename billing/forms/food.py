"""Taking part in the food programme."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from billing.models import FoodProgramme
from provider.forms.base import DayField, DeskForm
from provider.periods import ONE_DAY

TIERS = list(FoodProgramme._meta.get_field("tier").choices or ())


class ProgrammeForm(DeskForm):
    """The last day is typed; `end` is the first day after it."""

    tier = forms.TypedChoiceField(label=_("Tier"), choices=TIERS, coerce=int, widget=forms.RadioSelect)
    start = DayField(label=_("From"))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty while you take part"))
    claims_own_children = forms.BooleanField(
        label=_("My own children may be claimed"),
        required=False,
        help_text=_("Only when your own household is income-eligible. They count when another child eats with them."),
    )

    @classmethod
    def of(cls, row: FoodProgramme) -> dict[str, Any]:
        return {**super().of(row), "last_day": row.end - ONE_DAY if row.end else None}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        start, last = cleaned.get("start"), cleaned.get("last_day")
        if start and last and last < start:
            self.add_error("last_day", _("The last day cannot be before the first."))
        return cleaned

    def programme(self) -> dict[str, Any]:
        """The fields as arguments for a service."""
        last: date | None = self.cleaned_data["last_day"]
        return {**self.values("last_day"), "end": last + ONE_DAY if last else None}
