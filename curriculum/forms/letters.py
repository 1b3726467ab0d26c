"""Forms for the letter to families and its wish list."""

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import KINDS, PiecesField
from curriculum.models import Keeping
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm


class WordsForm(DeskForm):
    """The owner's own words in the letter."""

    opening = forms.CharField(
        required=False,
        max_length=1200,
        widget=forms.Textarea,
        label=_("How it begins"),
        help_text=_("No child’s name: the letter goes to all families"),
    )
    books = forms.CharField(
        required=False, max_length=600, widget=forms.Textarea, label=_("Books to look for"), help_text=_("One a line")
    )
    closing = forms.CharField(required=False, max_length=600, widget=forms.Textarea, label=_("How it ends"))


class WishForm(DeskForm):
    text = forms.CharField(max_length=120, label=_("What families may bring"), help_text=_("Such as: clean jar lids"))


class ArrivedForm(DeskForm):
    on = DayField(label=_("Day"))
    name = forms.CharField(
        max_length=120, label=_("Material"), widget=forms.TextInput({"list": "known-materials", "autocomplete": "off"})
    )
    quantity = PiecesField(min_value=1, initial=1, label=_("How many"))
    keeping = forms.ChoiceField(
        choices=list(KINDS.items()),
        initial=Keeping.CONSUMABLE,
        widget=forms.RadioSelect,
        label=_("How it is kept"),
        help_text=_("Counts for a name that is not among your materials yet"),
    )
    source = forms.CharField(required=False, max_length=120, label=_("Who brought it"), help_text=_("To say thank you"))
    estimated_value = MoneyFormField(
        required=False, label=_("What it is worth"), help_text=_("A note only: what is given has no cost")
    )
