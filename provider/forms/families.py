"""Households, guardians, children and places."""

from datetime import time
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm
from provider.forms.week import WeekForm
from provider.models import Language

USUAL_DAYS = [(weekday, time(8, 0), time(17, 0), "every") for weekday in range(5)]


class SearchForm(forms.Form):
    search = forms.CharField(label=_("Name"), required=False, max_length=60)
    show = forms.ChoiceField(
        label=_("Which families"), choices=[("", _("With a place")), ("past", _("Past"))], required=False
    )


class HouseholdForm(DeskForm):
    name = forms.CharField(label=_("Name of the family"), max_length=120)
    address = forms.CharField(label=_("Address"), required=False, widget=forms.Textarea(attrs={"rows": 3}))
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    email = forms.EmailField(label=_("E-mail for papers"), required=False)
    language = forms.ChoiceField(label=_("Language of papers"), choices=Language.choices)
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3}))


class GuardianForm(DeskForm):
    name = forms.CharField(label=_("Name"), max_length=120)
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    email = forms.EmailField(label=_("E-mail"), required=False)


class ChildForm(DeskForm):
    name = forms.CharField(label=_("Full name"), max_length=120)
    preferred_name = forms.CharField(
        label=_("Called"), required=False, max_length=60, help_text=_("As called in the playroom")
    )
    birth_date = DayField(label=_("Birth date"))
    label_letters = forms.CharField(
        label=_("Letters on labels"),
        required=False,
        max_length=12,
        help_text=_("Empty: the first letters of the name in use"),
    )
    physician = forms.CharField(label=_("Physician"), required=False, max_length=160, help_text=_("Name and telephone"))
    health_insurer = forms.CharField(label=_("Health insurer"), required=False, max_length=160)
    is_own_child = forms.BooleanField(
        label=_("Your own child"), required=False, help_text=_("Counts for capacity, never for tuition")
    )
    meals_not_claimed = forms.BooleanField(label=_("Leave out of food-programme claims"), required=False)


class NewChildForm(ChildForm):
    allergies = forms.CharField(
        label=_("Allergies"),
        required=False,
        max_length=200,
        help_text=_("What to avoid. What to do is entered on the child’s page. Shown to you and your helper."),
    )


class PatternForm(WeekForm):
    """Other days from a date on."""

    ask_cycle = True
    start = DayField(label=_("From"))


class EnrolForm(WeekForm):
    """A place with its weekly pattern."""

    ask_cycle = True
    start = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Leave empty when it is not known yet"))
    is_free_place = forms.BooleanField(label=_("Free place, never billed"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {**self.week_initial(USUAL_DAYS), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)


class EndForm(DeskForm):
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty: the place has no end"))
