"""Issuing a month, and taking an invoice back."""

from datetime import date
from typing import Any

import django_filters
from django import forms
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from billing.models import Invoice
from billing.selectors.month import MonthPreview
from provider.forms.base import DayInput, DeskForm
from provider.models import Household, Provider


class IssueForm(DeskForm):
    """The one act on a month: what was looked at, and whether to go on in spite of problems."""

    fingerprint = forms.CharField(max_length=64, widget=forms.HiddenInput)
    issue_the_rest = forms.BooleanField(required=False, label=_("Issue the rest; I will come back for these children."))

    def __init__(self, *args: Any, preview: MonthPreview, **kwargs: Any) -> None:
        kwargs["initial"] = {"fingerprint": preview.fingerprint}
        super().__init__(*args, **kwargs)
        if not preview.problems:
            self.fields["issue_the_rest"].widget = forms.HiddenInput()

    def show_as_it_is_now(self, preview: MonthPreview) -> None:
        """After a refusal the next post is about what is shown then."""
        self.data = {**self.data.dict(), self.add_prefix("fingerprint"): preview.fingerprint}  # type: ignore[attr-defined]


class CreditForm(DeskForm):
    reason = forms.CharField(
        label=_("Why is it taken back?"),
        max_length=200,
        help_text=_("Stands on the credit note, for the family to read."),
    )


class InvoiceFilter(django_filters.FilterSet):
    household = django_filters.ModelChoiceFilter(
        queryset=Household.objects.none(), to_field_name="public_id", label=_("Family"), empty_label=_("All")
    )
    since = django_filters.DateFilter(
        field_name="issued_on", lookup_expr="gte", label=_("Issued from"), widget=DayInput
    )
    until = django_filters.DateFilter(field_name="issued_on", lookup_expr="lte", label=_("to"), widget=DayInput)
    state = django_filters.ChoiceFilter(
        method="by_state",
        label=_("Which"),
        empty_label=_("All"),
        choices=[("open", _("Not paid yet")), ("overdue", _("Overdue")), ("credit", _("Credit notes"))],
    )

    class Meta:
        model = Invoice
        fields: list[str] = []

    def __init__(self, *args: Any, provider: Provider, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.filters["household"].queryset = Household.objects.filter(provider=provider).order_by("name")

    def by_state(self, rows: Any, name: str, value: str) -> Any:
        if value == "credit":
            return rows.filter(series="credit")
        unpaid = rows.filter(series="invoice", credit_note=None, total__gt=F("allocated"))
        return unpaid.filter(due_on__lt=self.today) if value == "overdue" else unpaid
