"""Forms for themes, runs, centres and the hours of a run."""

from datetime import timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.models import Theme, ThemeRun
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.models import Provider

HUES = [
    (0, _("Red")),
    (30, _("Brick")),
    (60, _("Amber")),
    (90, _("Olive")),
    (120, _("Leaf")),
    (150, _("Moss")),
    (180, _("Sea")),
    (210, _("Lake")),
    (240, _("Blue")),
    (270, _("Violet")),
    (300, _("Plum")),
    (330, _("Rose")),
]


class SwatchSelect(forms.RadioSelect):
    """Radio buttons, each with a patch of its hue."""

    template_name = "curriculum/forms/swatches.html"


class ThemeForm(DeskForm):
    name = forms.CharField(max_length=80, label=_("Name"))
    hue = forms.TypedChoiceField(
        choices=HUES, coerce=int, initial=150, widget=SwatchSelect, label=_("Colour of its month")
    )
    note = forms.CharField(
        required=False, max_length=5000, widget=forms.Textarea, label=_("Notes"), help_text=_("Ideas that stay with it")
    )


class RunForm(DeskForm):
    """`end` is typed as the last day and cleaned to the day after it."""

    theme = RowChoice(label=_("Theme"))
    start = DayField(label=_("First day"))
    end = DayField(label=_("Last day"))
    budget = MoneyFormField(required=False, label=_("Budget"))
    note = forms.CharField(required=False, max_length=5000, widget=forms.Textarea, label=_("Notes for this time"))
    start_from = RowChoice(
        required=False,
        label=_("Begin from"),
        empty_label=_("A blank month"),
        help_text=_(
            "Its activities and needs are taken over, and its notes and budget where you leave them empty here"
        ),
    )

    def __init__(self, *args: Any, provider: Provider, is_new: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_new:
            runs = ThemeRun.objects.live().filter(provider=provider).select_related("theme").order_by("-start")
            self.fields["start_from"].queryset = runs  # type: ignore[attr-defined]
        else:
            del self.fields["start_from"]
        self.fields["theme"].queryset = Theme.objects.filter(provider=provider).order_by("name")  # type: ignore[attr-defined]

    def clean_end(self) -> Any:
        try:
            return self.cleaned_data["end"] + timedelta(days=1)
        except OverflowError as error:
            raise forms.ValidationError(_("Enter a date like 2026-03-27.")) from error


class CentreForm(DeskForm):
    name = forms.CharField(max_length=80, label=_("Name"))
    target_pieces = forms.IntegerField(
        min_value=0, max_value=999, initial=0, label=_("Pieces that should lie out"), help_text=_("0 for no target")
    )
    position = forms.IntegerField(
        required=False, min_value=0, max_value=999, label=_("Place in the walk"), help_text=_("1 is the first centre")
    )
