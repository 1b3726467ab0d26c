"""The first visit."""

from datetime import date, time
from typing import Any

from django import forms
from django.contrib.auth.forms import UsernameField
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField
from provider.forms.places import REGIONS, region_choices, zone_choices
from provider.forms.week import WeekForm
from provider.models import AreaUnit, Country, Use

USUAL_UNIT = {Country.US: AreaUnit.SQUARE_FEET, Country.CANADA: AreaUnit.SQUARE_METRES}
USUAL_WEEK = [(weekday, time(7, 30), time(17, 30), "every") for weekday in range(5)]


class SetUpForm(WeekForm):
    """The owner's login, the business and its opening hours; rooms are a formset beside it."""

    owner_name = forms.CharField(label=_("Your name"), max_length=150)
    username = UsernameField(
        label=_("Username"), max_length=150, help_text=_("To sign in with; an e-mail address will do")
    )
    login_email = forms.EmailField(label=_("Your e-mail"), required=False)
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
        help_text=_("At least ten characters, not only figures"),
    )
    password_again = forms.CharField(
        label=_("Password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
    )
    business_name = forms.CharField(
        label=_("Name of the business"), max_length=120, help_text=_("As it stands on your invoices")
    )
    country = forms.ChoiceField(label=_("Country"), choices=Country.choices)
    region = forms.ChoiceField(label=_("State or province"), choices=region_choices())
    time_zone = forms.ChoiceField(label=_("Time zone"), choices=zone_choices)
    opened_on = DayField(label=_("First day of business"), help_text=_("The day your first child came, or will come"))
    home_area = forms.DecimalField(
        label=_("Area of the whole home"),
        min_value=1,
        max_digits=9,
        decimal_places=2,
        help_text=_("All floors, basement and garage included"),
    )
    area_unit = forms.ChoiceField(
        label=_("Measured in"),
        choices=[("", _("the unit usual in the country")), *AreaUnit.choices],
        required=False,
    )

    groups = (
        ("login", ("owner_name", "username", "login_email", "password", "password_again")),
        ("business", ("business_name", "country", "region", "time_zone", "opened_on")),
        ("home", ("home_area", "area_unit")),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"opened_on": today, **self.week_initial(USUAL_WEEK)})
        super().__init__(*args, **kwargs)

    def group(self, name: str) -> list[Any]:
        return [self[field] for field in dict(self.groups)[name]]

    def login_fields(self) -> list[Any]:
        return self.group("login")

    def business_fields(self) -> list[Any]:
        return self.group("business")

    def home_fields(self) -> list[Any]:
        return self.group("home")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("password") and cleaned.get("password_again") not in (None, cleaned["password"]):
            self.add_error("password_again", _("The two passwords differ."))
        country, region = cleaned.get("country"), cleaned.get("region")
        if country and region and region not in REGIONS[country]:
            self.add_error("region", _("This place is not in the country chosen above."))
        if country and not cleaned.get("area_unit"):
            cleaned["area_unit"] = USUAL_UNIT[Country(country)]
        return cleaned


class RoomRow(forms.Form):
    """One room of the set-up; a row without a name is left out."""

    use_required_attribute = False

    name = forms.CharField(label=_("Room"), max_length=80, required=False)
    area = forms.DecimalField(label=_("Area"), min_value=0, max_digits=9, decimal_places=2, required=False)
    use = forms.ChoiceField(label=_("Use"), choices=[("", _("Choose")), *Use.choices], required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        if cleaned.get("name"):
            for name in ("area", "use"):
                if not cleaned.get(name) and not self.has_error(name):
                    self.add_error(name, _("Fill in this too, or empty the name of the room."))
        elif cleaned.get("area") or cleaned.get("use"):
            self.add_error("name", _("Give the room a name."))
        return cleaned


class BaseRoomRows(forms.BaseFormSet[RoomRow]):
    def clean(self) -> None:
        names = [form.cleaned_data["name"].casefold() for form in self.forms if form.cleaned_data.get("name")]
        if len(names) != len(set(names)):
            raise forms.ValidationError(_("Two rooms have the same name."))

    @property
    def rooms(self) -> list[dict[str, Any]]:
        return [form.cleaned_data for form in self.forms if form.cleaned_data.get("name")]


RoomRows = forms.formset_factory(RoomRow, formset=BaseRoomRows, extra=4, max_num=60, absolute_max=60)
