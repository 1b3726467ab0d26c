"""The choice of a capacity rule, and the planner's question whether one more would fit."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from provider.capacity import CapacityRule
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.forms.families import USUAL_DAYS
from provider.forms.week import WeekForm
from provider.models import CapacitySetting, Country, Enrolment, Household, Provider, WaitingChild, WaitStatus
from provider.models.base import ends_after
from provider.periods import WeekSlot
from provider.selectors.capacity import counted
from provider.selectors.planner import Wanted
from provider.services.capacity import CUSTOM, CustomRule

AGE_LIMITS = range(1, 4)
# A question about a later year is one for later.
LATEST_YEARS = 3


def rule_choices(provider: Provider, rules: tuple[CapacityRule, ...]) -> list[tuple[str, Any]]:
    """Her own place first, then her country, then the others; her own numbers last."""

    def distance(rule: CapacityRule) -> int:
        return 0 if (rule.country, rule.region) == (provider.country, provider.region) else 1

    def order(rule: CapacityRule) -> tuple[int, bool]:
        return distance(rule), rule.country != provider.country

    places: dict[str, list[tuple[str, str]]] = {}
    for rule in sorted(rules, key=order):
        place = f"{gettext(rule.place)}, {Country(rule.country).label}"
        choices = places.setdefault(place, [])
        if rule.code not in dict(choices):
            choices.append((rule.code, gettext(rule.kind)))
    return [("", _("Choose")), *places.items(), (CUSTOM, _("My own numbers, below"))]


class CapacityForm(DeskForm):
    """A rule from a day on. The numbers at the end count only with the choice of one's own numbers."""

    rule = forms.ChoiceField(label=_("Rule"))
    start = DayField(label=_("From"), help_text=_("Days before keep the rule they had; later choices are replaced"))
    adults = forms.IntegerField(
        label=_("Adults who are there"), min_value=1, max_value=9, initial=1, help_text=_("You and your helpers")
    )
    licence_limit = forms.IntegerField(
        label=_("Number on your licence"),
        required=False,
        min_value=1,
        max_value=60,
        help_text=_("When it is lower than the rule’s"),
    )
    most = forms.IntegerField(label=_("Children at most"), required=False, min_value=1, max_value=60)
    own_under_years = forms.IntegerField(
        label=_("Own children count while under (years)"),
        required=False,
        min_value=0,
        max_value=18,
        help_text=_("Empty: like the others. 0: never"),
    )

    def __init__(self, *args: Any, provider: Provider, rules: tuple[CapacityRule, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["rule"].choices = rule_choices(provider, rules)  # type: ignore[attr-defined]
        for number in AGE_LIMITS:
            self.fields[f"limit_months_{number}"] = forms.IntegerField(
                label=_("Under how many months"), required=False, min_value=1, max_value=216
            )
            self.fields[f"limit_most_{number}"] = forms.IntegerField(
                label=_("Of them at most"), required=False, min_value=0, max_value=60
            )

    @staticmethod
    def of_setting(row: CapacitySetting | None) -> dict[str, Any]:
        """Initial values that repeat what holds now."""
        if row is None:
            return {}
        initial: dict[str, Any] = {"rule": row.rule, "adults": row.adults, "licence_limit": row.licence_limit}
        if row.custom:
            own = row.custom["own_under_months"]
            initial |= {"most": row.custom["most"], "own_under_years": None if own is None else own // 12}
            for number, limit in zip(AGE_LIMITS, row.custom["limits"], strict=False):
                initial[f"limit_months_{number}"] = limit["under_months"]
                initial[f"limit_most_{number}"] = limit["most"]
        return initial

    def plain_fields(self) -> list[Any]:
        return [self[name] for name in ("rule", "start", "adults", "licence_limit")]

    def age_limits(self) -> list[tuple[Any, Any]]:
        return [(self[f"limit_months_{number}"], self[f"limit_most_{number}"]) for number in AGE_LIMITS]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.limits: list[tuple[int, int]] = []
        if cleaned.get("rule") != CUSTOM:
            return cleaned
        if cleaned.get("most") is None and not self.has_error("most"):
            self.add_error("most", _("Say how many children may be there at most."))
        for number in AGE_LIMITS:
            months, most = cleaned.get(f"limit_months_{number}"), cleaned.get(f"limit_most_{number}")
            if months is not None and most is not None:
                self.limits.append((months, most))
            elif (months is None) != (most is None):
                missing = f"limit_most_{number}" if most is None else f"limit_months_{number}"
                if not self.has_error(missing):
                    self.add_error(missing, _("Give both, the age and the number."))
        return cleaned

    def custom_rule(self) -> CustomRule | None:
        """The owner's numbers; None for a rule of the files."""
        if self.cleaned_data["rule"] != CUSTOM:
            return None
        years = self.cleaned_data["own_under_years"]
        return CustomRule(self.cleaned_data["most"], self.limits, None if years is None else years * 12)


class WhoForm(forms.Form):
    """Whose wish fills the planner: somebody on the waiting list, or a child with a place."""

    waiting = RowChoice(label=_("From the waiting list"), required=False)
    place = RowChoice(label=_("Other days for"), required=False)

    def __init__(self, *args: Any, provider: Provider, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["waiting"].queryset = WaitingChild.objects.filter(  # type: ignore[attr-defined]
            provider=provider, status__in=[WaitStatus.WAITING, WaitStatus.OFFERED]
        ).order_by("wanted_start", "pk")
        self.fields["place"].queryset = (  # type: ignore[attr-defined]
            Enrolment.objects.filter(ends_after(today), provider=provider)
            .select_related("child")
            .order_by("child__name", "start")
        )


class PlannerForm(WeekForm):
    """A wished week from a day on, for a child born on a day."""

    ask_cycle = True
    birth_date = DayField(label=_("Birth date"), help_text=_("Or the day on which the child is expected"))
    start = DayField(label=_("From"))
    household = RowChoice(label=_("Brother or sister in"), required=False, help_text=_("Some rules count families"))

    def __init__(self, *args: Any, provider: Provider, today: date, place: Enrolment | None, **kwargs: Any) -> None:
        kwargs["initial"] = {"start": today, **self.week_initial(USUAL_DAYS), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        self.today, self.place = today, place
        if place:
            del self.fields["birth_date"], self.fields["household"]
        else:
            households = Household.objects.filter(provider=provider).order_by("name")
            self.fields["household"].queryset = households  # type: ignore[attr-defined]

    def clean_start(self) -> date:
        start = self.cleaned_data["start"]
        if not self.today <= start or start.year > self.today.year + LATEST_YEARS:
            raise forms.ValidationError(
                ngettext(
                    "The plan looks ahead: from today, up to %(n)d year.",
                    "The plan looks ahead: from today, up to %(n)d years.",
                    LATEST_YEARS,
                )
                % {"n": LATEST_YEARS}
            )
        return start

    def wanted(self) -> Wanted:
        cleaned = self.cleaned_data
        slots = tuple(WeekSlot(each.weekday, each.begins, each.ends, each.cycle) for each in self.week_choices)  # type: ignore[arg-type]
        if self.place:
            child = counted(self.place.child)
            return Wanted(child.birth_date, cleaned["start"], slots, child=child)
        household = cleaned["household"]
        return Wanted(cleaned["birth_date"], cleaned["start"], slots, household=household and household.pk)
