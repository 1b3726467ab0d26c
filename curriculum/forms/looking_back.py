"""The last page of a run: keep, change or drop."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.models import Verdict
from curriculum.selectors.looking_back import LookingBack, Thing
from curriculum.services.looking_back import MarkInput
from provider.forms.base import DeskForm


class ReviewForm(DeskForm):
    """A verdict and a note for each activity and material, in fields named by its public id."""

    loved = forms.CharField(required=False, max_length=5000, widget=forms.Textarea, label=_("What the children loved"))
    next_time = forms.CharField(
        required=False, max_length=5000, widget=forms.Textarea, label=_("What to do differently next time")
    )

    def __init__(self, *args: Any, looking_back: LookingBack, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.looking_back = looking_back
        for each in looking_back.things:
            name, mark = each.thing.public_id, each.mark
            self.fields[f"verdict-{name}"] = forms.ChoiceField(
                required=False,
                choices=[("", _("No word")), *Verdict.choices],
                initial=mark.verdict if mark else "",
                label=each.thing.name,
            )
            self.fields[f"note-{name}"] = forms.CharField(
                required=False, max_length=200, initial=mark.note if mark else "", label=_("Why, or how")
            )

    @property
    def activities(self) -> Iterator[tuple[Thing, forms.BoundField, forms.BoundField]]:
        return self._boxes(self.looking_back.activities)

    @property
    def materials(self) -> Iterator[tuple[Thing, forms.BoundField, forms.BoundField]]:
        return self._boxes(self.looking_back.materials)

    def marks(self) -> list[MarkInput]:
        """What was said of each thing, after the form was cleaned."""
        return [
            MarkInput(
                each.thing,
                self.cleaned_data[f"verdict-{each.thing.public_id}"],
                self.cleaned_data[f"note-{each.thing.public_id}"],
            )
            for each in self.looking_back.things
        ]

    def clean(self) -> dict[str, Any]:
        for each in self.looking_back.things:
            verdict, note = f"verdict-{each.thing.public_id}", f"note-{each.thing.public_id}"
            if self.cleaned_data.get(note) and self.cleaned_data.get(verdict) == "":
                self.add_error(verdict, _("Choose keep, change or drop."))
        return self.cleaned_data

    def _boxes(self, things: tuple[Thing, ...]) -> Iterator[tuple[Thing, forms.BoundField, forms.BoundField]]:
        for each in things:
            yield each, self[f"verdict-{each.thing.public_id}"], self[f"note-{each.thing.public_id}"]
