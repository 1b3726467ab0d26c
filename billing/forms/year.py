"""Choices for a tax year, and the reasons for closing and reopening it."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from billing.models import Rounding, TaxBasis, TaxYear
from provider.forms.base import DeskForm
from provider.models import Country

USUAL, YES, NO = "usual", "yes", "no"
COUNTS = {USUAL: None, YES: True, NO: False}


class ChoicesForm(DeskForm):
    """The provisional home share is typed in percent and cleaned to a fraction of one."""

    basis = forms.ChoiceField(label=_("Tax basis"), choices=TaxBasis.choices, widget=forms.RadioSelect)
    rounding = forms.ChoiceField(label=_("Rounding of shares"), choices=Rounding.choices, widget=forms.RadioSelect)
    provisional_home_share = forms.DecimalField(
        label=_("Provisional home share, in percent"),
        help_text=_("Used while the year runs. Leave it empty to use the records so far."),
        required=False,
        min_value=0,
        max_value=100,
        max_digits=5,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )

    counts_preparation = forms.ChoiceField(
        label=_("Work at home while no child is here"),
        help_text=_("Preparing, cleaning, planning, records. Shopping and other work away never count."),
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, choices: TaxYear, **kwargs: Any) -> None:
        share = choices.provisional_home_share
        initial = {
            "basis": choices.basis,
            "rounding": choices.rounding,
            "provisional_home_share": None if share is None else share * 100,
            "counts_preparation": next(key for key, value in COUNTS.items() if value is choices.counts_preparation),
            "version": choices.version if choices.pk else 0,
        }
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)
        in_us = choices.provider.country == Country.US
        self.fields["counts_preparation"].choices = [  # type: ignore[attr-defined]
            (USUAL, _("As usual in the United States: it counts") if in_us else _("Cautiously: it does not count")),
            (YES, _("It counts towards the business use of the home")),
            (NO, _("It does not count")),
        ]

    def clean_counts_preparation(self) -> bool | None:
        return COUNTS[self.cleaned_data["counts_preparation"]]

    def clean_provisional_home_share(self) -> Decimal | None:
        percent: Decimal | None = self.cleaned_data["provisional_home_share"]
        return None if percent is None else percent / 100


class CloseForm(DeskForm):
    reason = forms.CharField(
        label=_("Why it is closed"),
        help_text=_("Shown to whoever tries to change something in it, for example: return filed."),
        max_length=200,
    )


class ReopenForm(DeskForm):
    reason = forms.CharField(label=_("Why it is opened again"), max_length=200)
