"""Starting and stopping the timer."""

from collections.abc import Iterable
from datetime import datetime, tzinfo
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.doors import RunChoice
from provider.forms.base import DayField, DeskForm, TimeInput
from provider.models import WorkKind


class StartTimerForm(DeskForm):
    """The kind is chosen by the button that is pressed."""

    run = forms.ChoiceField(label=_("For a theme"), required=False)
    away = forms.BooleanField(label=_("Away from home"), required=False, help_text=_("Shopping always is"))
    kind = forms.ChoiceField(choices=WorkKind.choices)

    def __init__(self, *args: Any, runs: Iterable[RunChoice], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(run.public_id, run.name) for run in runs]
        if choices:
            self.fields["run"].choices = [("", _("No theme")), *choices]  # type: ignore[attr-defined]
        else:
            del self.fields["run"]


class StopTimerForm(DeskForm):
    """Stops now, unless an end is said."""

    ends_on = DayField(label=_("Ended on"), required=False)
    ends = forms.TimeField(label=_("Ended at"), required=False, widget=TimeInput)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for given, missing in (("ends_on", "ends"), ("ends", "ends_on")):
            if cleaned.get(given) and not cleaned.get(missing) and missing not in self.errors:
                self.add_error(missing, _("Give both the day and the time, or neither to stop now."))
        return cleaned

    def ended_at(self, zone: tzinfo) -> datetime | None:
        day, at = self.cleaned_data["ends_on"], self.cleaned_data["ends"]
        return datetime.combine(day, at, zone) if day and at is not None else None
