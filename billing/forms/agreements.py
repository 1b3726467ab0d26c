"""Terms of a place and who pays them."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from billing.models import Agreement, RatePeriod
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm
from provider.models import Guardian, Household
from provider.periods import ONE_DAY

HUNDRED = Decimal(100)


class AgreementForm(DeskForm):
    """Rate, days and one box of percent for each guardian of the family (and for any other who pays already)."""

    start = DayField(label=_("From"), help_text=_("The rate agreed before ends on this day."))
    rate = MoneyFormField(label=_("Rate"), help_text=_("For the place, in advance. 0 for a time without charge."))
    period = forms.ChoiceField(
        label=_("Charged for"), choices=[("monthly", _("a month")), ("weekly", _("a week"))], widget=forms.RadioSelect
    )
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Leave empty when it is not known yet"))
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(
        self,
        *args: Any,
        household: Household,
        agreement: Agreement | None = None,
        payers_of: Agreement | None = None,
        **kwargs: Any,
    ) -> None:
        payers = list(payers_of.payers.select_related("guardian")) if payers_of else []
        initial: dict[str, Any] = {"period": RatePeriod.MONTHLY}
        if agreement:
            initial = self.of(agreement)
        kwargs["initial"] = {**initial, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        if agreement:
            self.fields["start"].help_text = ""
        guardians = list(household.guardians.order_by("pk"))
        self.guardians: list[Guardian] = guardians + [
            payer.guardian for payer in payers if payer.guardian not in guardians
        ]
        share_of = {payer.guardian_id: payer.share for payer in payers}
        if not payers and len(self.guardians) == 1:
            share_of = {self.guardians[0].pk: Decimal(1)}
        for guardian in self.guardians:
            share = share_of.get(guardian.pk)
            self.fields[self._box(guardian)] = forms.DecimalField(
                label=_("%(guardian)s pays, in percent") % {"guardian": guardian},
                min_value=0,
                max_value=100,
                decimal_places=2,
                required=False,
                initial=None if share is None else plain(share * HUNDRED),
            )
        boxes = [self._box(guardian) for guardian in self.guardians]
        self.order_fields(["start", "rate", "period", *boxes, "last_day", "note"])

    @staticmethod
    def _box(guardian: Guardian) -> str:
        return f"share_{guardian.public_id}"

    def shares(self) -> dict[Guardian, Decimal]:
        """The typed percentages as fractions of one, without the empty boxes."""
        typed = ((guardian, self.cleaned_data.get(self._box(guardian))) for guardian in self.guardians)
        return {guardian: (percent / HUNDRED).quantize(Decimal("0.0001")) for guardian, percent in typed if percent}

    def terms(self) -> dict[str, Any]:
        """Keyword arguments of the services, without the submission key."""
        terms = {name: self.cleaned_data[name] for name in ("start", "rate", "period", "note")}
        last_day = self.cleaned_data["last_day"]
        return {**terms, "end": last_day and last_day + ONE_DAY, "shares": self.shares()}


def plain(number: Decimal) -> str:
    """`100.0000` as `100`, `33.3300` as `33.33`."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
