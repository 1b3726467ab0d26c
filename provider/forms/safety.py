"""Incidents, drills, home checks and how often they are due."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.utils.timezone import localtime
from django.utils.translation import gettext_lazy as _

from provider.forms.attendance import children_of
from provider.forms.base import DayField, DayInput, DeskForm, RowChoice, TimeInput
from provider.models import Child, DrillKind, HomeCheck, Incident, IncidentKind, Provider, Reminder
from provider.services.safety import CheckedItem

TALL = {"rows": 3}


class MomentInput(forms.MultiWidget):
    """A day and a local time beside each other."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__((DayInput({"aria-label": _("Day")}), TimeInput({"aria-label": _("Time")})), attrs)

    def decompress(self, value: datetime | None) -> list[date | time | None]:
        local = localtime(value) if value else None
        return [local.date(), local.time()] if local else [None, None]


class MomentField(forms.SplitDateTimeField):
    """An aware instant, typed as a day and a local time of the provider's zone."""

    widget = MomentInput

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "error_messages",
            {
                "invalid_date": _("Enter a date like 2026-03-27."),
                "invalid_time": _("Enter a time like 14:05."),
                "required": _("Say the day and the time."),
            },
        )
        super().__init__(**kwargs)


class ToldFields(DeskForm):
    """How the parent was told, and who signed."""

    told_whom = forms.CharField(label=_("Parent told"), required=False, max_length=120)
    told_how = forms.CharField(
        label=_("How"), required=False, max_length=60, help_text=_("In person, by telephone, by message")
    )
    told_at = MomentField(label=_("Told when"), required=False)
    signed_by = forms.CharField(label=_("Signed by"), required=False, max_length=120)
    signed_at = MomentField(label=_("Signed when"), required=False)
    follow_up = forms.CharField(label=_("What follows"), required=False, widget=forms.Textarea(TALL))


class IncidentForm(ToldFields):
    child = RowChoice(label=_("Child"))
    kind = forms.ChoiceField(label=_("What kind"), choices=IncidentKind.choices)
    happened_at = MomentField(label=_("When it happened"))
    place = forms.CharField(label=_("Where"), required=False, max_length=120)
    what = forms.CharField(label=_("What happened"), widget=forms.Textarea(TALL))
    first_aid = forms.CharField(label=_("First aid, or what was done"), required=False, widget=forms.Textarea(TALL))
    written_by = forms.CharField(label=_("Written by"), max_length=120)
    field_order = ("child", "kind", "happened_at", "place", "what", "first_aid", "written_by")

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = children_of(provider)  # type: ignore[attr-defined]


class CorrectIncidentForm(IncidentForm):
    reason = forms.CharField(label=_("Why it is corrected"), max_length=200)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, provider=provider, **kwargs)
        # What must be kept of an erased child may still be wrong.
        everyone = Child.objects.filter(provider=provider).order_by("name")
        self.fields["child"].queryset = everyone  # type: ignore[attr-defined]

    @classmethod
    def of(cls, row: Incident) -> dict[str, Any]:
        return {**super().of(row), "child": row.child.public_id}


class DrillForm(DeskForm):
    kind = forms.ChoiceField(label=_("What kind"), choices=DrillKind.choices)
    held_at = MomentField(label=_("When"))
    adults = forms.IntegerField(label=_("Adults"), min_value=1, max_value=99)
    children = forms.IntegerField(label=_("Children"), min_value=0, max_value=99)
    seconds = forms.IntegerField(
        label=_("Seconds until everybody was out or under cover"), required=False, min_value=1, max_value=86_400
    )
    exit_used = forms.CharField(label=_("Exit used"), required=False, max_length=80)
    led_by = forms.CharField(label=_("Led by"), max_length=120)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)


class CorrectDrillForm(DrillForm):
    reason = forms.CharField(label=_("Why it is corrected"), max_length=200)


class HomeCheckForm(DeskForm):
    """One row of fields per thing to look at, and a few empty ones for more. The tick is labelled with the thing."""

    SPARE = 2
    MOST = 60

    done_on = DayField(label=_("Day"))
    done_by = forms.CharField(label=_("By"), max_length=120)

    def __init__(self, *args: Any, items: list[dict[str, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows: list[dict[str, Any]] = [*items, *({"item": "", "ok": False, "note": ""} for _spare in range(self.SPARE))]
        if self.is_bound:
            sent = sum(name.startswith("item_") for name in self.data)
            rows += [{}] * (min(sent, self.MOST) - len(rows))
        self.numbers = range(len(rows))
        for number, row in enumerate(rows):
            name = self.data.get(f"item_{number}", "") if self.is_bound else row.get("item", "")
            self.fields[f"item_{number}"] = forms.CharField(
                label=_("What"), required=False, max_length=120, initial=row.get("item", "")
            )
            self.fields[f"ok_{number}"] = forms.BooleanField(
                label=name or _("In order"), required=False, initial=row.get("ok", False)
            )
            self.fields[f"note_{number}"] = forms.CharField(
                label=_("What was done about it"), required=False, max_length=200, initial=row.get("note", "")
            )

    @property
    def rows(self) -> list[dict[str, forms.BoundField]]:
        return [{name: self[f"{name}_{number}"] for name in ("item", "ok", "note")} for number in self.numbers]

    @property
    def single(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.rpartition("_")[0] not in ("item", "ok", "note")]

    def checked(self) -> list[CheckedItem]:
        """The rows that name something; an emptied row leaves the list."""
        data = self.cleaned_data
        return [
            CheckedItem(data[f"item_{number}"], data[f"ok_{number}"], data[f"note_{number}"])
            for number in self.numbers
            if data[f"item_{number}"].strip()
        ]


class CorrectHomeCheckForm(HomeCheckForm):
    reason = forms.CharField(label=_("Why it is corrected"), max_length=200)

    @classmethod
    def of(cls, row: HomeCheck) -> dict[str, Any]:
        return {"done_on": row.done_on, "done_by": row.done_by}


class IntervalForm(DeskForm):
    """Days between two of each kind; places differ."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for what in Reminder:
            self.fields[what] = forms.IntegerField(
                label=_("%(what)s: days between two") % {"what": what.label}, min_value=1, max_value=730
            )

    def days(self) -> dict[str, int]:
        return {what: self.cleaned_data[what] for what in Reminder.values}
