"""Seven weekdays with a tick and two times each: opening hours, and the days on which a child comes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import time
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DeskForm, TimeInput
from provider.models import Cycle, Weekday

NO_TIME = _("Give both times, like 07:30 and 17:30.")


@dataclass(frozen=True, slots=True)
class WeekRow:
    label: Any
    on: BoundField
    begins: BoundField
    ends: BoundField
    cycle: BoundField | None


@dataclass(frozen=True, slots=True)
class WeekChoice:
    """A ticked weekday (0 Monday) with its two local times; `cycle` where the form asks for it."""

    weekday: int
    begins: time
    ends: time
    cycle: str


class WeekForm(DeskForm):
    """Adds the fields of seven weekdays after those of the subclass. `week_choices` is the result."""

    ask_cycle = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for day in Weekday:
            names = {"day": day.label}
            self.fields[f"on_{day}"] = forms.BooleanField(required=False, label=day.label)
            self.fields[f"begins_{day}"] = forms.TimeField(
                required=False, widget=TimeInput, label=_("%(day)s from") % names
            )
            self.fields[f"ends_{day}"] = forms.TimeField(
                required=False, widget=TimeInput, label=_("%(day)s until") % names
            )
            if self.ask_cycle:
                self.fields[f"cycle_{day}"] = forms.ChoiceField(
                    choices=Cycle.choices,
                    required=False,
                    initial=Cycle.EVERY,
                    label=_("%(day)s, in which weeks") % names,
                )

    @staticmethod
    def week_initial(choices: Any) -> dict[str, Any]:
        """Initial values for (weekday, begins, ends, cycle) tuples."""
        initial: dict[str, Any] = {}
        for weekday, begins, ends, cycle in choices:
            initial |= {
                f"on_{weekday}": True,
                f"begins_{weekday}": begins,
                f"ends_{weekday}": ends,
                f"cycle_{weekday}": cycle,
            }
        return initial

    def plain_fields(self) -> list[BoundField]:
        """The visible fields that are not part of the week."""
        return [field for field in self.visible_fields() if not field.name.startswith(WEEK_PREFIXES)]

    def week_rows(self) -> Iterator[WeekRow]:
        for day in Weekday:
            cycle = self[f"cycle_{day}"] if self.ask_cycle else None
            yield WeekRow(day.label, self[f"on_{day}"], self[f"begins_{day}"], self[f"ends_{day}"], cycle)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.week_choices: list[WeekChoice] = []
        for day in Weekday:
            if not cleaned.get(f"on_{day}"):
                continue
            begins, ends = cleaned.get(f"begins_{day}"), cleaned.get(f"ends_{day}")
            if begins is None or ends is None:
                if not self.has_error(f"begins_{day}") and not self.has_error(f"ends_{day}"):
                    self.add_error(f"begins_{day}", NO_TIME)
            elif ends <= begins:
                self.add_error(f"ends_{day}", _("This must be later than the time before it."))
            else:
                self.week_choices.append(WeekChoice(day, begins, ends, cleaned.get(f"cycle_{day}") or Cycle.EVERY))
        if not self.week_choices and not self.errors:
            self.add_error(None, _("Tick at least one weekday."))
        return cleaned


WEEK_PREFIXES = ("on_", "begins_", "ends_", "cycle_")
