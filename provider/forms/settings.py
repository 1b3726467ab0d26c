"""The business, its rooms, opening hours, closures and people."""

from typing import Any

from django import forms
from django.contrib.auth.forms import UsernameField
from django.utils.translation import gettext_lazy as _

from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.forms.places import region_choices, zone_choices
from provider.forms.week import WeekForm
from provider.models import ClosureKind, Household, Provider, Role, Use


class BusinessForm(DeskForm):
    name = forms.CharField(label=_("Name"), max_length=120, help_text=_("As it stands on your invoices"))
    address = forms.CharField(label=_("Address"), required=False, widget=forms.Textarea(attrs={"rows": 3}))
    phone = forms.CharField(label=_("Telephone"), required=False, max_length=40)
    email = forms.EmailField(label=_("E-mail"), required=False)
    region = forms.ChoiceField(label=_("State or province"), required=False)
    time_zone = forms.ChoiceField(label=_("Time zone"), choices=zone_choices)
    home_area = forms.DecimalField(label=_("Area of the whole home"), min_value=1, max_digits=9, decimal_places=2)
    opened_on = DayField(label=_("First day of business"))
    hourly_value = MoneyFormField(
        label=_("What an hour of your work is worth"),
        required=False,
        help_text=_("Shown beside the cost of themes, never booked"),
    )
    invoice_days_due = forms.IntegerField(label=_("Days until an invoice is due"), min_value=0, max_value=120)
    invoice_note = forms.CharField(
        label=_("Note on every invoice"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["region"].choices = region_choices(provider.country)  # type: ignore[attr-defined]
        self.fields["home_area"].help_text = _("In %(unit)s; all floors, basement and garage included") % {
            "unit": provider.get_area_unit_display()
        }


class RoomForm(DeskForm):
    name = forms.CharField(label=_("Room"), max_length=80)
    area = forms.DecimalField(label=_("Area"), max_digits=9, decimal_places=2, min_value=0)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["area"].help_text = _("In %(unit)s") % {"unit": provider.get_area_unit_display()}


class RoomUseForm(DeskForm):
    use = forms.ChoiceField(label=_("Use"), choices=Use.choices, widget=forms.RadioSelect)
    start = DayField(label=_("From"))


class NewRoomForm(RoomForm):
    use = forms.ChoiceField(label=_("Use"), choices=Use.choices, widget=forms.RadioSelect)
    start = DayField(label=_("Used so from"))


class OpeningHoursForm(WeekForm):
    start = DayField(label=_("From"), help_text=_("Days before keep the hours they had"))


class ClosureForm(DeskForm):
    start = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty: one day only"))
    kind = forms.ChoiceField(label=_("Kind"), choices=ClosureKind.choices)
    reason = forms.CharField(label=_("What families are told"), max_length=120)
    paid = forms.ChoiceField(
        label=_("Tuition for these days"),
        choices=[("yes", _("Paid: tuition stays the same")), ("no", _("Not paid: tuition is reduced"))],
        widget=forms.RadioSelect,
        initial="yes",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        start, last_day = cleaned.get("start"), cleaned.get("last_day")
        if start and last_day and last_day < start:
            self.add_error("last_day", _("The last day must not lie before the first."))
        return cleaned


class MemberForm(DeskForm):
    role = forms.ChoiceField(
        label=_("May do"),
        choices=[
            (Role.HELPER, _("Helper: attendance, hours and families, no money")),
            (Role.PREPARER, _("Tax preparer: reads money and exports, changes nothing")),
            (Role.FAMILY, _("Family: its own invoices and receipts")),
            (Role.OWNER, _("Owner: everything")),
        ],
        widget=forms.RadioSelect,
    )
    household = RowChoice(label=_("Family"), required=False, help_text=_("Only for the login of a family"))
    name = forms.CharField(label=_("Name"), max_length=150)
    username = UsernameField(label=_("Username"), max_length=150)
    email = forms.EmailField(label=_("E-mail"), required=False)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["household"].queryset = (  # type: ignore[attr-defined]
            Household.objects.filter(provider=provider).order_by("name")
        )


class HistoryFilter(forms.Form):
    day = DayField(label=_("Day"), required=False)
