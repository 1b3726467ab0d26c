"""What is kept beside a child."""

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm
from provider.forms.spans import SpanForm
from provider.models import CareNeedKind


class ContactForm(DeskForm):
    name = forms.CharField(label=_("Name"), max_length=120)
    relation = forms.CharField(label=_("Relation to the child"), required=False, max_length=60)
    phone = forms.CharField(label=_("Telephone"), max_length=40)
    position = forms.IntegerField(
        label=_("Call as number"),
        min_value=1,
        max_value=20,
        help_text=_("When no guardian answers, number 1 is called first"),
    )


class CollectorForm(SpanForm):
    name = forms.CharField(label=_("Name"), max_length=120)
    relation = forms.CharField(label=_("Relation to the child"), required=False, max_length=60)
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    start = DayField(label=_("May collect from"))

    field_order = ("name", "relation", "phone", "start", "last_day")


class CareNeedForm(SpanForm):
    kind = forms.ChoiceField(label=_("Kind"), choices=CareNeedKind.choices)
    what = forms.CharField(label=_("What to avoid, or what the child has"), max_length=200)
    action = forms.CharField(
        label=_("What to do"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("In the order to do it"),
    )
    posted = forms.BooleanField(
        label=_("On the posted list"), required=False, help_text=_("The list that hangs where food is prepared")
    )
    start = DayField(label=_("From"))

    field_order = ("kind", "what", "action", "posted", "start", "last_day")
