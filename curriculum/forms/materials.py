"""Forms for materials, lots, placements and put-away counts."""

from decimal import Decimal
from typing import Any

import django_filters
from django import forms
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from curriculum.models import (
    Acquisition,
    Condition,
    How,
    Keeping,
    LearningCentre,
    Material,
    Mending,
    Placement,
    Recipe,
    Theme,
)
from curriculum.selectors.bins import bins_in_order
from curriculum.selectors.themes import centres_in_order
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm, RowChoice
from provider.models import Provider
from provider.money import ZERO

KINDS = {Keeping.DURABLE: _("Durable"), Keeping.CONSUMABLE: _("Used up")}


class PiecesField(forms.DecimalField):
    """A number of pieces, with up to three decimals for what is measured."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"min_value": 0, "max_digits": 9, "decimal_places": 3, **kwargs})

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class CountField(PiecesField):
    """A number of pieces; an empty box says none."""

    def clean(self, value: Any) -> Decimal:
        return super().clean(0 if value in self.empty_values else value)


class CostField(MoneyFormField):
    """Money that may be left out for nothing."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def clean(self, value: Any) -> Decimal:
        return super().clean(value) or ZERO


class MaterialForm(DeskForm):
    name = forms.CharField(max_length=120, label=_("Name"))
    keeping = forms.ChoiceField(
        choices=Keeping, initial=Keeping.DURABLE, widget=forms.RadioSelect, label=_("How it is kept")
    )
    unit = forms.CharField(
        max_length=30,
        initial="piece",
        label=_("Counted in"),
        help_text=_("What one of it is called: piece, set, sheet"),
    )
    bin = RowChoice(required=False, label=_("Bin"), empty_label=_("No bin"))
    new_bin = forms.CharField(
        required=False, max_length=40, label=_("Or a new bin"), help_text=_("What its label says; made when you save")
    )
    place = forms.CharField(
        required=False, max_length=120, label=_("Where it is kept"), help_text=_("When it has no bin: room, shelf")
    )
    file = forms.FileField(
        required=False, label=_("Photo"), widget=forms.FileInput({"accept": "image/*", "capture": "environment"})
    )
    drop_photo = forms.BooleanField(required=False, label=_("Take the photo away"))
    condition = forms.ChoiceField(required=False, choices=Condition, initial=Condition.GOOD, label=_("Condition"))
    pieces_in_set = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=9999,
        label=_("How many make a set"),
        help_text=_("When you count single pieces. The whole sets on hand are then counted for you."),
    )
    age_mark_months = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=216,
        label=_("Age mark, in months"),
        help_text=_("Youngest age the maker names: 36 for 3 years and up, 0 for any age. Empty when there is none."),
    )
    care_note = forms.CharField(
        required=False, max_length=200, label=_("Care"), help_text=_("How to clean and keep it")
    )
    source = forms.CharField(
        required=False, max_length=200, label=_("Source"), help_text=_("Where the idea or print comes from")
    )
    licence = forms.CharField(
        required=False, max_length=120, label=_("Licence"), help_text=_("What its maker allows, and whom to credit")
    )
    note = forms.CharField(
        required=False, max_length=5000, widget=forms.Textarea, label=_("Notes"), help_text=_("What broke before")
    )

    def __init__(self, *args: Any, provider: Provider, material: Material | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bin"].queryset = bins_in_order(provider)  # type: ignore[attr-defined]
        if material is None or material.photo is None:
            del self.fields["drop_photo"]

    def clean_condition(self) -> str:
        return self.cleaned_data["condition"] or Condition.GOOD

    def values(self, *leave_out: str) -> dict[str, Any]:
        """The file is kept before the material is written, and comes in as `photo`."""
        return super().values("file", *leave_out)

    @property
    def has_more(self) -> bool:
        """Whether the boxes that are folded away hold something."""
        folded = ("pieces_in_set", "age_mark_months", "care_note", "source", "licence")
        return any(self[name].errors or self[name].value() not in (None, "") for name in folded)


class LotForm(DeskForm):
    how = forms.ChoiceField(choices=How, initial=How.SECOND_HAND, label=_("How it came"))
    on = DayField(label=_("When it came"))
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))
    basis = CostField(label=_("What it cost you"), help_text=_("Nothing for what was given"))
    expected_uses = forms.IntegerField(
        min_value=1,
        max_value=999,
        initial=5,
        label=_("Runs it should last"),
        help_text=_("Its cost is shared out over them"),
    )
    residual = CostField(
        label=_("Value at the end"), help_text=_("What it should still be worth after the last of them")
    )
    source = forms.CharField(required=False, max_length=120, label=_("Shop or donor"))
    estimated_value = MoneyFormField(
        required=False, label=_("Estimated value"), help_text=_("Of what was given: a note, never a cost")
    )
    note = forms.CharField(required=False, max_length=5000, widget=forms.Textarea, label=_("Notes"))

    def __init__(self, *args: Any, material: Material, has_receipt: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].help_text = _("Counted in: %(unit)s") % {"unit": material.unit}
        if material.keeping == Keeping.CONSUMABLE:
            del self.fields["expected_uses"], self.fields["residual"]
        if has_receipt:
            self.fields["basis"].disabled = True
            self.fields["basis"].help_text = _("Stands on its receipt; correct it there")


class VoidForm(DeskForm):
    reason = forms.CharField(max_length=200, label=_("Why"))


class PlaceForm(DeskForm):
    centre = RowChoice(required=False, label=_("Centre"), empty_label=_("No centre"))
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))
    used_as = forms.CharField(
        required=False, max_length=120, label=_("What it stands for"), help_text=_("This time: a blue scarf as a river")
    )

    def __init__(self, *args: Any, provider: Provider, free: Decimal, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = centres_in_order(provider)  # type: ignore[attr-defined]
        self.fields["quantity"].initial = free
        self.fields["quantity"].help_text = _("Counted in: %(unit)s") % {"unit": unit}


class PutAwayForm(DeskForm):
    returned = CountField(label=_("Back on the shelf"))
    used_up = CountField(label=_("Used up"))
    broken = CountField(label=_("Broken"))
    missing = CountField(label=_("Missing"))
    plan = forms.ChoiceField(
        required=False,
        choices=[("", _("Decide later")), *Mending.choices],
        label=_("What becomes of the broken ones"),
    )
    how = forms.CharField(
        required=False, max_length=200, label=_("How they broke"), help_text=_("Said again before you buy more of it")
    )
    washed = forms.BooleanField(required=False, label=_("Washed"))
    on = DayField(label=_("Counted on"))
    note = forms.CharField(required=False, max_length=200, label=_("Note"))

    def __init__(self, *args: Any, keeping: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if keeping == Keeping.DURABLE:
            del self.fields["used_up"]

    @property
    def counts(self) -> list[forms.BoundField]:
        return [self[name] for name in ("returned", "used_up", "broken", "missing") if name in self.fields]

    @property
    def of_broken(self) -> list[forms.BoundField]:
        return [self["plan"], self["how"]]

    @property
    def rest(self) -> list[forms.BoundField]:
        return [self["washed"], self["on"], self["note"]]


class PlanBrokenForm(DeskForm):
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))
    plan = forms.ChoiceField(choices=Mending, widget=forms.RadioSelect, label=_("What becomes of them"))
    how = forms.CharField(
        required=False, max_length=200, label=_("How they broke"), help_text=_("Said again before you buy more of it")
    )


class BrokenForm(DeskForm):
    plan = forms.ChoiceField(choices=Mending, widget=forms.RadioSelect, label=_("What becomes of them"))
    how = forms.CharField(required=False, max_length=200, label=_("How they broke"))
    mended = CountField(
        label=_("Whole again"),
        help_text=_("Repaired, or replaced by the shop at no cost. They come back into stock, and the write-off ends."),
    )
    done_on = DayField(required=False, label=_("Done on"))
    outcome = forms.CharField(
        required=False, max_length=200, label=_("How it ended"), help_text=_("Glued; new one came; money back")
    )


class MaterialFilter(django_filters.FilterSet):
    word = django_filters.CharFilter(method="by_word", label=_("Word"))
    place = django_filters.CharFilter(method="by_place", label=_("Place"))
    keeping = django_filters.ChoiceFilter(
        choices=[*KINDS.items(), (How.MADE, _("Home-made"))], method="by_kind", label=_("Kind"), empty_label=_("Any")
    )
    bin = django_filters.ModelChoiceFilter(to_field_name="public_id", label=_("Bin"), empty_label=_("Any"))
    theme = django_filters.ModelChoiceFilter(
        method="by_theme", to_field_name="public_id", label=_("Theme"), empty_label=_("Any")
    )
    centre = django_filters.ModelChoiceFilter(
        method="by_centre", to_field_name="public_id", label=_("Centre"), empty_label=_("Any")
    )
    condition = django_filters.ChoiceFilter(choices=Condition, label=_("Condition"), empty_label=_("Any"))

    class Meta:
        model = Material
        fields = ["word", "place", "keeping", "bin", "theme", "centre", "condition"]

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.filters["bin"].queryset = bins_in_order(provider)
        self.filters["theme"].queryset = Theme.objects.filter(provider=provider).order_by("name")
        self.filters["centre"].queryset = centres_in_order(provider)

    @property
    def is_narrow(self) -> bool:
        """Whether more than a word was asked for."""
        return any(self.data.get(name) for name in self.Meta.fields if name != "word")

    def by_word(self, materials: QuerySet[Material], _name: str, value: str) -> QuerySet[Material]:
        """Materials with every word somewhere in their name or notes."""
        for part in value.split():
            materials = materials.filter(
                Q(name__icontains=part)
                | Q(note__icontains=part)
                | Q(care_note__icontains=part)
                | Q(source__icontains=part)
            )
        return materials

    def by_place(self, materials: QuerySet[Material], _name: str, value: str) -> QuerySet[Material]:
        """Materials kept there: by their own place, or the label, room or shelf of their bin."""
        return materials.filter(
            Q(place__icontains=value)
            | Q(bin__label__icontains=value)
            | Q(bin__room__icontains=value)
            | Q(bin__shelf__icontains=value)
        )

    def by_kind(self, materials: QuerySet[Material], _name: str, value: str) -> QuerySet[Material]:
        if value != How.MADE:
            return materials.filter(keeping=value)
        made = Acquisition.objects.filter(material=OuterRef("pk"), how=How.MADE, voided_at__isnull=True)
        return materials.filter(Exists(made) | Exists(Recipe.objects.filter(product=OuterRef("pk"))))

    def by_theme(self, materials: QuerySet[Material], _name: str, value: Theme) -> QuerySet[Material]:
        """Materials that lay out in a run of the theme."""
        return materials.filter(Exists(_placed(run__theme=value)))

    def by_centre(self, materials: QuerySet[Material], _name: str, value: LearningCentre) -> QuerySet[Material]:
        """Materials that ever lay out in the centre."""
        return materials.filter(Exists(_placed(centre=value)))


def _placed(**where: Any) -> QuerySet[Placement]:
    return Placement.objects.filter(lot__material=OuterRef("pk"), voided_at__isnull=True, **where)
