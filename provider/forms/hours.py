"""Work around the children's day."""

from datetime import datetime, timedelta, tzinfo
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm, TimeInput
from provider.models import WorkKind

HOME, AWAY = "home", "away"


class WorkForm(DeskForm):
    kind = forms.ChoiceField(label=_("Kind of work"), choices=WorkKind.choices)
    day = DayField(label=_("Day"))
    begins = forms.TimeField(label=_("From"), widget=TimeInput)
    ends = forms.TimeField(label=_("Until"), widget=TimeInput)
    next_day = forms.BooleanField(label=_("Until the next day"), required=False)
    place = forms.ChoiceField(
        label=_("Where"),
        choices=[(HOME, _("In the home")), (AWAY, _("Away, like shopping or a course"))],
        widget=forms.RadioSelect,
        initial=HOME,
        help_text=_("Only work in the home counts towards its business use"),
    )
    person = forms.CharField(
        label=_("Who worked"), required=False, max_length=120, help_text=_("Empty when it was the owner")
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def entry(self, zone: tzinfo) -> dict[str, Any]:
        """The entry as arguments for a service."""
        data = self.cleaned_data
        ends_on = data["day"] + timedelta(days=1) if data["next_day"] else data["day"]
        return {
            "kind": data["kind"],
            "started_at": datetime.combine(data["day"], data["begins"], zone),
            "ended_at": datetime.combine(ends_on, data["ends"], zone),
            "at_home": data["place"] == HOME,
            "person": data["person"],
            "note": data["note"],
            "submission_key": data["submission_key"],
        }
