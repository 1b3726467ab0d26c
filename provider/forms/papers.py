"""Papers of families, and the owner's own."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from provider.access import STAFF
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.forms.spans import SpanForm
from provider.models import (
    Child,
    Engagement,
    FamilyPaperKind,
    Household,
    Membership,
    OwnPaperKind,
    Person,
    Provider,
)
from provider.periods import ONE_DAY

PAPER_TYPES = "image/jpeg,image/png,image/heic,image/heif,.heic,.heif,application/pdf"
EXPIRES = {"label": _("Expires on"), "required": False, "help_text": _("First day on which it no longer counts")}


def _file_field() -> forms.FileField:
    return forms.FileField(
        label=_("Photo or PDF"),
        required=False,
        widget=forms.FileInput(attrs={"accept": PAPER_TYPES}),
        help_text=_("JPEG, PNG, HEIC or PDF, at most 25 MB"),
    )


class FamilyPaperForm(DeskForm):
    kind = forms.ChoiceField(label=_("Kind"), choices=FamilyPaperKind.choices)
    child = RowChoice(label=_("About"), required=False, empty_label=_("The whole family"))
    title = forms.CharField(
        label=_("Title"), required=False, max_length=120, help_text=_("Needed only to tell papers of one kind apart")
    )
    edition = forms.CharField(
        label=_("Edition"), required=False, max_length=40, help_text=_("Version of the text that was signed")
    )
    answer = forms.ChoiceField(
        label=_("Their answer"),
        choices=[("yes", _("Signed or granted")), ("no", _("Refused"))],
        widget=forms.RadioSelect,
        initial="yes",
    )
    signed_on = DayField(label=_("Signed on"), required=False)
    expires_on = DayField(**EXPIRES)
    file = _file_field()
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, household: Household, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["child"].queryset = Child.objects.filter(household=household).order_by("birth_date", "pk")  # type: ignore[attr-defined]

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        child = row.child and row.child.public_id
        return {**super().of(row), "child": child, "answer": "yes" if row.granted else "no", "file": None}

    def values(self, *leave_out: str) -> dict[str, Any]:
        return {**super().values("answer", "file", *leave_out), "granted": self.cleaned_data["answer"] == "yes"}


class OwnPaperForm(DeskForm):
    kind = forms.ChoiceField(label=_("Kind"), choices=OwnPaperKind.choices)
    person = RowChoice(label=_("Whose"), required=False, empty_label=_("The business"))
    title = forms.CharField(label=_("Title"), max_length=120, help_text=_("The same title again renews the paper"))
    issued_on = DayField(label=_("Issued on"))
    expires_on = DayField(**EXPIRES)
    hours = forms.DecimalField(label=_("Training hours"), required=False, min_value=0, max_digits=6, decimal_places=2)
    file = _file_field()
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = Person.objects.filter(provider=provider).order_by("name")  # type: ignore[attr-defined]

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        return {**super().of(row), "person": row.person and row.person.public_id, "file": None}

    def values(self, *leave_out: str) -> dict[str, Any]:
        return super().values("file", *leave_out)


class PersonForm(SpanForm):
    name = forms.CharField(label=_("Name"), max_length=120)
    engagement = forms.ChoiceField(
        label=_("Works as"),
        choices=Engagement.choices,
        widget=forms.RadioSelect,
        help_text=_(
            "Whether somebody is an employee or a contractor follows from how the work is done, not from what it is "
            "called. Ask your tax preparer."
        ),
    )
    start = DayField(label=_("First day"))
    membership = RowChoice(label=_("Login"), required=False, empty_label=_("No login"))
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    field_order = ("name", "engagement", "start", "last_day", "membership", "note")

    def __init__(self, *args: Any, provider: Provider, person: Person | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        logins = Membership.objects.filter(provider=provider, role__in=STAFF)
        taken = Person.objects.filter(provider=provider, membership__isnull=False)
        if person is not None:
            taken = taken.exclude(pk=person.pk)
        free = logins.exclude(pk__in=taken.values("membership")).select_related("user").order_by("pk")
        self.fields["membership"].queryset = free  # type: ignore[attr-defined]

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        return {**super().of(row), "membership": row.membership and row.membership.public_id}


class PayForm(DeskForm):
    paid_on = DayField(label=_("Payday"))
    period_start = DayField(label=_("For work from"))
    period_last_day = DayField(label=_("Until and with"))
    gross = MoneyFormField(label=_("Earned, before anything is taken off"))
    withheld = MoneyFormField(label=_("Withheld"), required=False, help_text=_("Taxes and contributions taken off"))
    employer_part = MoneyFormField(
        label=_("Employer's part"), required=False, help_text=_("Contributions you pay on top")
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def values(self, *leave_out: str) -> dict[str, Any]:
        values = super().values("period_last_day", *leave_out)
        given = {name: value for name, value in values.items() if value is not None}
        return {**given, "period_end": self.cleaned_data["period_last_day"] + ONE_DAY}
