"""Ticking who ate a meal, and writing the menu of a week."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext_lazy as _

from provider.errors import StaleRow
from provider.forms.base import DeskForm
from provider.models import Child, MealKind, MenuItem
from provider.selectors.meals import Box, Eater, MenuWeek
from provider.services.menus import StaleMenu
from provider.templatetags.frame import weekday

SEPARATOR = " "


class MealForm(DeskForm):
    """Who ate a meal. `seen` is who had eaten it when the form was opened; `add` and `remove` are the differences."""

    children = forms.MultipleChoiceField(label=_("Who ate"), required=False, widget=forms.CheckboxSelectMultiple)
    seen = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, eaters: Sequence[Eater], **kwargs: Any) -> None:
        kwargs["initial"] = {
            "children": [each.child.public_id for each in eaters if each.proposed],
            "seen": SEPARATOR.join(each.child.public_id for each in eaters if each.ate),
        }
        super().__init__(*args, **kwargs)
        self._children: dict[str, Child] = {each.child.public_id: each.child for each in eaters}
        self.fields["children"].choices = [  # type: ignore[attr-defined]
            (each.child.public_id, f"{each.child}, {each.state}") for each in eaters
        ]

    @property
    def add(self) -> list[Child]:
        return self._among(set(self.cleaned_data["children"]) - set(self._seen))

    @property
    def remove(self) -> list[Child]:
        return self._among(set(self._seen) - set(self.cleaned_data["children"]))

    @property
    def _seen(self) -> list[str]:
        return self.cleaned_data["seen"].split(SEPARATOR)

    def _among(self, wanted: set[str]) -> list[Child]:
        return [child for public_id, child in self._children.items() if public_id in wanted]


@dataclass(frozen=True, slots=True)
class MenuCell:
    """One meal of a day: a `box` to write in, or none when the day is over and `item` is kept."""

    kind: MealKind
    box: BoundField | None
    item: MenuItem | None


@dataclass(frozen=True, slots=True)
class MenuRow:
    day: date
    cells: tuple[MenuCell, ...]


class MenuForm(DeskForm):
    """A box for each day and meal that may still be planned. `texts` is the result."""

    def __init__(self, *args: Any, week: MenuWeek, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"version": week.stamp}
        super().__init__(*args, **kwargs)
        self.week = week
        self.boxes: dict[str, Box] = {}
        for day in week.days:
            for kind, item in zip(week.kinds, day.items, strict=True):
                if item is None or day.day >= today:
                    name = f"{day.day:%Y%m%d}-{kind}"
                    self.boxes[name] = (day.day, kind)
                    label = _("%(meal)s, %(day)s") % {"meal": kind.label, "day": weekday(day.day)}
                    self.fields[name] = forms.CharField(
                        label=label,
                        required=False,
                        max_length=200,
                        initial=item.text if item else "",
                        widget=forms.Textarea(attrs={"rows": 2}),
                    )

    @property
    def texts(self) -> dict[Box, str]:
        """What is written for each box, on one line."""
        return {box: " ".join(self.cleaned_data[name].split()) for name, box in self.boxes.items()}

    def rows(self) -> Iterator[MenuRow]:
        names = {box: name for name, box in self.boxes.items()}
        for day in self.week.days:
            cells = zip(self.week.kinds, day.items, strict=True)
            yield MenuRow(
                day.day,
                tuple(
                    MenuCell(kind, self[names[day.day, kind]] if (day.day, kind) in names else None, item)
                    for kind, item in cells
                ),
            )

    def question(self, error: StaleRow) -> None:
        super().question(error)
        if isinstance(error, StaleMenu):
            self.data[self.add_prefix("version")] = str(error.stamp)  # type: ignore[index]  # a copy since the question


class ServedInsteadForm(DeskForm):
    served_instead = forms.CharField(
        label=_("Served instead"), required=False, max_length=200, help_text=_("Empty when it was served as planned")
    )
