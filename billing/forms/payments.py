"""Money received."""

from datetime import date
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from billing.models import Method, Payment
from billing.selectors.invoices import open_amount, standing_invoices
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DayInput, DeskForm, RowChoice
from provider.models import Household, Provider
from provider.money import CENT, ZERO, format_money


class InvoiceChoice(RowChoice):
    def label_from_instance(self, obj: Any) -> str:
        return _("%(number)s, %(payer)s: %(open)s to pay") % {
            "number": obj,
            "payer": obj.payer_name,
            "open": format_money(open_amount(obj), "$"),
        }


class PaymentForm(DeskForm):
    """A payment of one family."""

    on = DayField(label=_("Received on"))
    amount = MoneyFormField(label=_("Amount"), min_value=CENT)
    method = forms.ChoiceField(label=_("How"), choices=Method.choices)
    guardian = RowChoice(label=_("From whom"), required=False, empty_label=_("The family"))
    invoice = InvoiceChoice(
        label=_("For which invoice"),
        required=False,
        empty_label=_("The oldest first"),
        help_text=_("What is over pays the next one due, or stays as credit on account."),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, household: Household, today: date, **kwargs: Any) -> None:
        open_now = [
            each for each in standing_invoices(household.provider).filter(household=household) if open_amount(each)
        ]
        due = sum((open_amount(each) for each in open_now), ZERO)
        initial = {"on": today, "amount": due or None, "method": Method.TRANSFER}
        kwargs["initial"] = {**initial, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        self.today = today
        guardian, invoice = self.fields["guardian"], self.fields["invoice"]
        assert isinstance(guardian, RowChoice)
        assert isinstance(invoice, RowChoice)
        guardian.queryset = household.guardians.order_by("pk")
        invoice.queryset = standing_invoices(household.provider).filter(pk__in=[each.pk for each in open_now])
        self.fields["on"].widget.attrs["max"] = today.isoformat()

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise ValidationError(_("Money cannot have come in after today."))
        return on


class VoidForm(DeskForm):
    reason = forms.CharField(label=_("Why is it voided?"), max_length=200)


class PaymentFilter(django_filters.FilterSet):
    household = django_filters.ModelChoiceFilter(
        queryset=Household.objects.none(), to_field_name="public_id", label=_("Family"), empty_label=_("All")
    )
    method = django_filters.ChoiceFilter(choices=Method.choices, label=_("How"), empty_label=_("All"))
    since = django_filters.DateFilter(field_name="on", lookup_expr="gte", label=_("From"), widget=DayInput)
    until = django_filters.DateFilter(field_name="on", lookup_expr="lte", label=_("to"), widget=DayInput)

    class Meta:
        model = Payment
        fields: list[str] = []

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.filters["household"].queryset = Household.objects.filter(provider=provider).order_by("name")
