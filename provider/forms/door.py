"""The tablet by the door, PINs, and handing a child over."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DeskForm
from provider.models import Collector, Guardian
from provider.services.door import PIN_LENGTH

OTHER = "other"


class DeviceForm(DeskForm):
    name = forms.CharField(label=_("Name of the tablet"), max_length=60, help_text=_("Like: tablet in the hall"))


class ConfirmForm(DeskForm):
    """An act that needs nothing but the button."""


class PinForm(forms.Form):
    """Spaces between the digits are as good as none."""

    use_required_attribute = False
    pin = forms.CharField(
        label=_("Your PIN"),
        max_length=2 * PIN_LENGTH,
        widget=forms.PasswordInput(
            # A keypad of digits on a tablet, and nothing that a browser would offer to keep.
            attrs={"inputmode": "numeric", "autocomplete": "one-time-code", "autofocus": True}
        ),
        error_messages={"required": _("Type your PIN.")},
    )

    def clean_pin(self) -> str:
        return "".join(self.cleaned_data["pin"].split())


class SignForm(DeskForm):
    """A signature at the door: in or out, perhaps with a word about it."""

    act = forms.ChoiceField(choices=[("in", ""), ("out", "")])
    note = forms.CharField(required=False, max_length=80)


class SignOutForm(DeskForm):
    """Who takes the child home: somebody listed, or another person with a note."""

    collector = forms.ChoiceField(widget=forms.HiddenInput)
    other = forms.CharField(label=_("Name"), required=False, max_length=120)
    note = forms.CharField(
        label=_("Note"), required=False, max_length=120, help_text=_("Who allowed it, and how you knew the person")
    )

    def __init__(self, *args: Any, guardians: list[Guardian], listed: list[Collector], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people: list[Guardian | Collector] = [*guardians, *listed]
        self.people = {person.public_id: person for person in people}
        self.fields["collector"].choices = [(key, key) for key in [*self.people, OTHER]]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if data.get("collector") == OTHER:
            for name in ("other", "note"):
                if not data.get(name, "").strip():
                    self.add_error(name, _("Fill this in for somebody who is not on the list."))
        return data

    def handover(self) -> dict[str, Any]:
        """Arguments of `sign_out_child`."""
        person = self.people.get(self.cleaned_data["collector"])
        if person:
            return {"collector": person}
        return {"other": self.cleaned_data["other"], "note": self.cleaned_data["note"]}
