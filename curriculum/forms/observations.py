"""What a child was seen doing."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.attendance import children_of
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.models import Provider


class ObservationForm(DeskForm):
    day = DayField(label=_("Day"))
    text = forms.CharField(label=_("What you saw"), max_length=2_000, widget=forms.Textarea({"rows": 4}))
    goal = forms.CharField(
        label=_("Skill or goal"),
        required=False,
        max_length=40,
        widget=forms.TextInput({"list": "goals", "autocomplete": "off"}),
        help_text=_("In your own words, or the code of your framework"),
    )
    photo = forms.FileField(
        label=_("Photo"),
        required=False,
        widget=forms.FileInput({"accept": "image/*"}),
        help_text=_("Only this child in the picture. The family sees it while its permission for photos holds."),
    )
    for_family = forms.BooleanField(label=_("The family may read it"), required=False)


class NewObservationForm(ObservationForm):
    child = RowChoice(label=_("Child"))
    field_order = ("child", "day", "text", "goal", "photo", "for_family")

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]
