"""Forms for the plan of a run, the library of activities and the owner's goals."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import KINDS, PiecesField
from curriculum.models import Activity, ActivityGoal, Keeping
from curriculum.selectors.themes import centres_in_order
from curriculum.skills import OWN, Framework, Goal
from provider.forms.base import DeskForm, RowChoice
from provider.models import Provider

Choices = list[tuple[str, list[tuple[str, str]]]]


class GoalBoxes(forms.CheckboxSelectMultiple):
    """Tick boxes domain by domain; a domain in which one is ticked lies open."""

    template_name = "curriculum/forms/goals.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["groups"] = [
            (group, options, sum(option["selected"] for option in options))
            for group, options, _index in context["widget"]["optgroups"]
        ]
        return context


def goal_choices(frameworks: Sequence[Framework]) -> Choices:
    """Goals as choices, domain by domain; a framework of names only is one group."""
    choices: Choices = []
    for framework in frameworks:
        if framework.names_only:
            choices.append((framework.title, [(goal.code, goal.title) for goal in framework.goals]))
        else:
            choices += [
                (f"{domain.name} · {framework.title}", [(goal.code, _label(goal)) for goal in domain.goals])
                for domain in framework.domains
            ]
    return choices


def _label(goal: Goal) -> str:
    """With its official number, which a goal of her own has not."""
    return goal.title if goal.code.startswith(f"{OWN}-") else f"{goal.title} ({goal.code})"


class ActivityForm(DeskForm):
    name = forms.CharField(max_length=120, label=_("What the children do"))
    note = forms.CharField(
        required=False, max_length=5000, widget=forms.Textarea, label=_("How it goes"), help_text=_("For yourself")
    )
    main = forms.ChoiceField(required=False, label=_("What it practises most"))
    goals = forms.MultipleChoiceField(required=False, widget=GoalBoxes, label=_("What else it practises"))
    from_months = forms.IntegerField(required=False, min_value=0, max_value=216, label=_("From how many months"))
    to_months = forms.IntegerField(required=False, min_value=0, max_value=216, label=_("To how many months"))
    source = forms.CharField(
        required=False, max_length=200, label=_("Where the idea or print comes from"), help_text=_("To find it again")
    )
    licence = forms.CharField(
        required=False, max_length=120, label=_("What its maker allows"), help_text=_("To credit it rightly")
    )

    def __init__(self, *args: Any, frameworks: Sequence[Framework], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = goal_choices(frameworks)
        self.fields["goals"].choices = choices  # type: ignore[attr-defined]
        self.fields["main"].choices = [("", _("Choose …")), *choices]  # type: ignore[attr-defined]

    @classmethod
    def of_activity(cls, row: Activity) -> dict[str, Any]:
        goals: list[ActivityGoal] = list(row.goals.all())
        main = next((goal.goal for goal in goals if goal.is_main), "")
        return {**cls.of(row), "main": main, "goals": [goal.goal for goal in goals if goal.goal != main]}


class PlanActivityForm(DeskForm):
    """`name` is typed; those that are known are offered by the page."""

    name = forms.CharField(
        max_length=120,
        label=_("What the children do"),
        widget=forms.TextInput({"list": "known-activities", "autocomplete": "off"}),
        help_text=_("Choose one that you know, or type a new one"),
    )
    centre = RowChoice(label=_("Centre"))
    note = forms.CharField(required=False, max_length=200, label=_("Note for this time"))

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = centres_in_order(provider)  # type: ignore[attr-defined]


class PlannedForm(PlanActivityForm):
    name = None  # type: ignore[assignment]  # the activity stays


class NeedForm(DeskForm):
    name = forms.CharField(
        max_length=120,
        label=_("Material"),
        widget=forms.TextInput({"list": "known-materials", "autocomplete": "off"}),
        help_text=_("Whether or not you have it"),
    )
    quantity = PiecesField(min_value=1, initial=1, label=_("How many"))
    centre = RowChoice(required=False, label=_("Centre"), empty_label=_("No centre of its own"))
    used_as = forms.CharField(required=False, max_length=120, label=_("What it stands for this time"))
    keeping = forms.ChoiceField(
        choices=list(KINDS.items()),
        initial=Keeping.DURABLE,
        widget=forms.RadioSelect,
        label=_("How it is kept"),
        help_text=_("Counts for a name that is not among your materials yet"),
    )

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = centres_in_order(provider)  # type: ignore[attr-defined]


class NeededForm(NeedForm):
    name = None  # type: ignore[assignment]  # the material stays, and so does how it is kept
    keeping = None  # type: ignore[assignment]


class GoalForm(DeskForm):
    title = forms.CharField(max_length=160, label=_("The goal, in your words"))
    framework_domain = forms.ChoiceField(required=False, label=_("Where it belongs"))
    own_domain = forms.CharField(
        required=False, max_length=60, label=_("Or a word of your own"), help_text=_("Such as: Garden")
    )

    def __init__(self, *args: Any, frameworks: Sequence[Framework], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        domains: list[Any] = [
            (each.title, [(domain.code, domain.name) for domain in each.domains]) for each in frameworks if each.edition
        ]
        self.fields["framework_domain"].choices = [("", _("None of these")), *domains]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if bool(data.get("framework_domain")) == bool(data.get("own_domain")):
            self.add_error("own_domain", _("Choose where it belongs, or type a word of your own: one of the two."))
        data["domain"] = data.pop("framework_domain", "") or data.pop("own_domain", "")
        data.pop("own_domain", None)
        return data


class VoidForm(DeskForm):
    reason = forms.CharField(max_length=200, label=_("Why"), help_text=_("So that it can be understood later"))
