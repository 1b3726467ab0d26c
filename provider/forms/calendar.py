"""Closing on holidays, and addresses for calendars."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DeskForm
from provider.selectors.calendar import HolidayRow

PAID = [("yes", _("Paid: tuition stays the same")), ("no", _("Not paid: tuition is reduced"))]


class HolidaysForm(DeskForm):
    """Ticked holidays of a year, or with a button beside one (`paid_day`, `unpaid_day`) only that one."""

    days = forms.TypedMultipleChoiceField(coerce=date.fromisoformat, required=False, label=_("Holidays"))
    paid = forms.ChoiceField(label=_("Tuition for these days"), choices=PAID, widget=forms.RadioSelect, initial="yes")
    paid_day = forms.TypedChoiceField(coerce=date.fromisoformat, required=False)
    unpaid_day = forms.TypedChoiceField(coerce=date.fromisoformat, required=False)

    def __init__(self, *args: Any, rows: list[HolidayRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(row.holiday.day.isoformat(), row.holiday.name) for row in rows if not row.closure]
        for name in ("days", "paid_day", "unpaid_day"):
            self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        one = cleaned.get("paid_day") or cleaned.get("unpaid_day")
        if one:
            cleaned["days"] = [one]
        self.is_paid = bool(cleaned.get("paid_day")) if one else cleaned.get("paid") == "yes"
        return cleaned


class FeedForm(DeskForm):
    name = forms.CharField(
        label=_("Which calendar reads it"), max_length=60, help_text=_("For you, like “my phone” or “the family’s”")
    )
