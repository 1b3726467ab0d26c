"""Asking for a place, and getting one."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm, RowChoice, TimeInput
from provider.forms.families import EnrolForm
from provider.models import Household, Provider, WaitingChild, Weekday


class WaitingForm(DeskForm):
    child_name = forms.CharField(label=_("Name of the child"), max_length=120)
    birth_date = DayField(
        label=_("Birth date"), required=False, help_text=_("For a child not born yet, the day it is due")
    )
    contact_name = forms.CharField(label=_("Who asks"), max_length=120)
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    email = forms.EmailField(label=_("E-mail"), required=False)
    asked_on = DayField(label=_("Asked on"))
    wanted_start = DayField(label=_("Place wanted from"))
    weekdays = forms.TypedMultipleChoiceField(
        label=_("On which days"), choices=Weekday.choices, coerce=int, widget=forms.CheckboxSelectMultiple
    )
    arrives = forms.TimeField(label=_("From"), widget=TimeInput)
    leaves = forms.TimeField(label=_("Until"), widget=TimeInput)
    note = forms.CharField(label=_("Note"), required=False, max_length=300)

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        return {**super().of(row), "weekdays": list(row.weekdays)}

    def values(self, *leave_out: str) -> dict[str, Any]:
        values = super().values("weekdays", *leave_out)
        return {**values, "weekdays": "".join(str(day) for day in sorted(self.cleaned_data["weekdays"]))}


class EnrolWaitingForm(EnrolForm):
    """The first day and the week of the place come from what was asked for."""

    household = RowChoice(label=_("Family"), required=False, empty_label=_("A new family"))
    family_name = forms.CharField(label=_("Name of the new family"), required=False, max_length=120)
    guardian_name = forms.CharField(label=_("Guardian"), required=False, max_length=120)
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    email = forms.EmailField(label=_("E-mail"), required=False)
    name = forms.CharField(label=_("Full name of the child"), max_length=120)
    birth_date = DayField(label=_("Birth date"))
    is_free_place = None  # type: ignore[assignment]  # how Django takes a field away

    field_order = (
        "household",
        "family_name",
        "guardian_name",
        "phone",
        "email",
        "name",
        "birth_date",
        "start",
        "last_day",
    )

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["household"].queryset = Household.objects.filter(provider=provider).order_by("name")  # type: ignore[attr-defined]

    @classmethod
    def of_waiting(cls, row: WaitingChild) -> dict[str, Any]:
        week = [(int(day), row.arrives, row.leaves, "every") for day in row.weekdays]
        blank = {f"on_{day}": False for day in Weekday}
        return {
            **blank,
            **cls.week_initial(week),
            "name": row.child_name,
            "family_name": row.contact_name.split()[-1],
            "guardian_name": row.contact_name,
            "phone": row.phone,
            "email": row.email,
            "birth_date": row.birth_date,
            "start": row.wanted_start,
        }
