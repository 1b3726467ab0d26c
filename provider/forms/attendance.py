"""Stays, absences and their corrections; local times of a day."""

from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm, RowChoice, TimeInput
from provider.models import Child, Provider


class Times(DeskForm):
    """Two local times of a day, the second one perhaps on the next day."""

    arrived_at = forms.TimeField(label=_("Arrived"), widget=TimeInput)
    left_at = forms.TimeField(
        label=_("Left"), widget=TimeInput, required=False, help_text=_("Empty while the child is here")
    )
    next_day = forms.BooleanField(label=_("Left on the next day"), required=False)
    brought_by = forms.CharField(label=_("Brought by"), required=False, max_length=120)
    collected_by = forms.CharField(label=_("Collected by"), required=False, max_length=120)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)
    confirmed = forms.BooleanField(label=_("The stay was really that long"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            # Asked only after the service has doubted the stay.
            self.fields["confirmed"].widget = forms.HiddenInput()

    def times(self, day: date, zone: tzinfo) -> dict[str, Any]:
        """The instants as arguments for a service."""
        arrived, left = self.cleaned_data["arrived_at"], self.cleaned_data["left_at"]
        left_on = day + timedelta(days=1) if self.cleaned_data["next_day"] else day
        return {
            "arrived_at": datetime.combine(day, arrived, zone),
            "left_at": None if left is None else datetime.combine(left_on, left, zone),
            **{name: self.cleaned_data[name] for name in ("brought_by", "collected_by", "note", "confirmed")},
        }


def children_of(provider: Provider) -> Any:
    """The children about whom something new may be written: not one whose data were erased."""
    return Child.objects.filter(provider=provider, erased_at__isnull=True).order_by("name")


class StayForm(Times):
    child = RowChoice(label=_("Child"))
    day = DayField(label=_("Day"))
    field_order = ("child", "day", *Times.base_fields)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]


class CorrectStayForm(Times):
    reason = forms.CharField(label=_("Why it is corrected"), max_length=200)


class AbsenceForm(DeskForm):
    """A reason written, or a common one sent by its own button."""

    COMMON = (_("Ill"), _("Appointment"), _("Away with the family"), _("With relatives"), _("Weather"))

    child = RowChoice(label=_("Child"))
    day = DayField(label=_("Day"))
    absence = forms.CharField(label=_("Another reason"), max_length=80, required=False)
    common = forms.CharField(max_length=80, required=False)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        data["absence"] = data.pop("common", "") or data.get("absence", "")
        if not data["absence"].strip():
            self.add_error("absence", _("Choose a reason, or write one."))
        return data


class NoteForm(DeskForm):
    note = forms.CharField(
        label=_("Note"), required=False, max_length=200, help_text=_("Like: came late from the dentist")
    )


class CorrectAbsenceForm(DeskForm):
    absence = forms.CharField(label=_("Reason"), max_length=80)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)
    reason = forms.CharField(label=_("Why it is corrected"), max_length=200)


class ReasonForm(DeskForm):
    """Taking something out of the books."""

    reason = forms.CharField(label=_("Why"), max_length=200)
