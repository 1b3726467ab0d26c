"""Taps, notes on the day, and messages to all families."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.attendance import children_of
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.forms.safety import MomentField
from provider.models import ClosureKind, MomentKind, Provider
from provider.services.moments import MOST_MILLILITRES
from provider.services.notices import ClosureInput


class TapForm(DeskForm):
    """One tap, now."""

    kind = forms.ChoiceField(choices=MomentKind.choices)
    amount = forms.IntegerField(label=_("ml"), required=False, min_value=1, max_value=MOST_MILLILITRES)

    def values(self, *leave_out: str) -> dict[str, Any]:
        """The box beside the bottle belongs to the bottle alone."""
        found = super().values(*leave_out)
        return found if found["kind"] == MomentKind.BOTTLE else {**found, "amount": None}


class MomentForm(DeskForm):
    """A moment written down afterwards."""

    child = RowChoice(label=_("Child"))
    kind = forms.ChoiceField(label=_("What"), choices=MomentKind.choices)
    at = MomentField(label=_("When"))
    amount = forms.IntegerField(
        label=_("Millilitres of a bottle"), required=False, min_value=1, max_value=MOST_MILLILITRES
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]


class DayNoteForm(DeskForm):
    day = DayField(label=_("Day"))
    text = forms.CharField(label=_("Note"), max_length=1_000, widget=forms.Textarea({"rows": 3}))
    for_family = forms.BooleanField(label=_("The family may read it"), required=False, initial=True)


class NewDayNoteForm(DayNoteForm):
    child = RowChoice(label=_("Child"))
    field_order = ("child", "day", "text", "for_family")

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]


class NoticeForm(DeskForm):
    """A message to all families, with or without closing the day."""

    day = DayField(label=_("For the day"))
    subject = forms.CharField(label=_("In one line"), max_length=120)
    text = forms.CharField(label=_("Message"), max_length=2_000, widget=forms.Textarea({"rows": 4}))
    closes = forms.BooleanField(label=_("Closed on this day"), required=False, initial=True)
    kind = forms.ChoiceField(label=_("Why closed"), choices=ClosureKind.choices, initial=ClosureKind.ILLNESS)
    paid = forms.BooleanField(
        label=_("Families pay for the day as usual"), required=False, help_text=_("Unpaid days reduce tuition")
    )

    def closure(self) -> ClosureInput | None:
        data = self.cleaned_data
        return ClosureInput(data["kind"], data["paid"]) if data["closes"] else None
