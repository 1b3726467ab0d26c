"""Forms for what was looked at of a material, recall look-ups, and cleaning."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.models import CleaningAct, Filler, RecallResult, SafetyFacts
from provider.forms.base import DayField, DeskForm

SEEN = (("", _("Not looked at")), ("yes", _("Yes")), ("no", _("No")))


class MillimetreField(forms.DecimalField):
    """A measured length; an empty box says that nobody measured."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, min_value=0, max_digits=6, decimal_places=1, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class SeenField(forms.TypedChoiceField):
    """Yes, no, or nobody looked (None)."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            required=False,
            choices=SEEN,
            coerce=lambda word: word == "yes",
            empty_value=None,
            widget=forms.RadioSelect,
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        return {True: "yes", False: "no", None: ""}.get(value, value)


class FactsForm(DeskForm):
    smallest_a = MillimetreField(label=_("One side"))
    smallest_b = MillimetreField(label=_("Another side"))
    smallest_c = MillimetreField(label=_("The third side"))
    ball_diameter = MillimetreField(label=_("Smallest ball or egg, across"), help_text=_("0 when there is none"))
    cord_length = MillimetreField(label=_("Longest cord or elastic, stretched"), help_text=_("0 when there is none"))
    loop_length = MillimetreField(label=_("Longest loop, all the way round"), help_text=_("0 when there is none"))
    magnet = SeenField(label=_("Magnets"))
    button_cell = SeenField(label=_("Button or coin cells"))
    latex = SeenField(label=_("Latex balloons or gloves"))
    plastic_bag = SeenField(label=_("A plastic bag"))
    old_paint = SeenField(label=_("Old or flaking paint"))
    filler = forms.ChoiceField(choices=Filler, required=False, label=_("What it is filled with, or made of"))
    note = forms.CharField(required=False, max_length=200, label=_("Note"))

    def values(self, *leave_out: str) -> dict[str, Any]:
        """Without a key: the version is enough to tell a second post, and there is one row for a material."""
        sides = ("smallest_a", "smallest_b", "smallest_c")
        values = super().values("submission_key", *sides, *leave_out)
        return {**values, "smallest": tuple(self.cleaned_data[side] for side in sides)}

    @classmethod
    def start(cls, facts: SafetyFacts | None) -> dict[str, Any]:
        return {} if facts is None else cls.of(facts)


class RecallForm(DeskForm):
    on = DayField(label=_("Looked up on"))
    where = forms.CharField(
        max_length=160, label=_("Where"), help_text=_("The government’s recall page, the maker’s page, a list on paper")
    )
    result = forms.ChoiceField(choices=RecallResult, widget=forms.RadioSelect, label=_("What it said"))
    again_on = DayField(
        required=False, label=_("Look again on"), help_text=_("Half a year later when you leave it empty")
    )
    note = forms.CharField(
        required=False, max_length=200, label=_("Note"), help_text=_("Model, lot number, date code of the thing")
    )


class RoutineForm(DeskForm):
    act = forms.ChoiceField(choices=CleaningAct, widget=forms.RadioSelect, label=_("What is done"))
    every_days = forms.IntegerField(
        min_value=0, max_value=366, initial=7, label=_("Every so many days"), help_text=_("0 for after each use")
    )
    last_done_on = DayField(required=False, label=_("Last done on"))
    note = forms.CharField(required=False, max_length=200, label=_("Note"))
