"""Forms for recipes and for making things by them."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import PiecesField
from curriculum.models import CostMethod, Keeping, Material, PieceState, PieceText, Recipe, RecipeLine
from curriculum.services.making import ComponentInput
from provider.fields import MoneyFormField
from provider.forms.base import DayField, DeskForm
from provider.models import Provider

MOST_COMPONENTS = 40
BLANK_ROWS = 6
HUNDRED = Decimal(100)


class ComponentForm(forms.Form):
    """One component of a batch; a row without a name and a quantity counts for nothing."""

    error_css_class = "has-error"
    use_required_attribute = False

    material = forms.CharField(
        max_length=120,
        label=_("Component"),
        widget=forms.TextInput({"list": "known-materials", "autocomplete": "off"}),
    )
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many"))
    waste = forms.DecimalField(
        required=False, min_value=0, max_value=99, max_digits=4, decimal_places=2, label=_("Waste, %")
    )
    child_specific = forms.BooleanField(required=False, label=_("Used again when the roster changes"))

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.provider = provider

    def has_changed(self) -> bool:
        return any(str(self[name].data or "").strip() for name in ("material", "quantity", "waste"))

    def clean_material(self) -> Material:
        name = self.cleaned_data["material"].strip()
        found = Material.objects.filter(provider=self.provider, name__iexact=name).first()
        if found is None:
            raise forms.ValidationError(
                _("There is no material called “%(name)s” yet. Add it first, with how it came."),
                params={"name": name},
            )
        return found

    def to_input(self) -> ComponentInput:
        given = self.cleaned_data
        waste = (given["waste"] or Decimal(0)) / HUNDRED
        return ComponentInput(given["material"], given["quantity"], waste, given["child_specific"])


class Rows(forms.BaseFormSet[ComponentForm]):
    """Rows that are all new: a changed recipe is a new one."""

    def initial_form_count(self) -> int:
        return 0

    def total_form_count(self) -> int:
        return super().total_form_count() if self.is_bound else len(self.initial or ())


ComponentRows: Any = forms.formset_factory(
    ComponentForm, formset=Rows, extra=0, max_num=MOST_COMPONENTS, absolute_max=MOST_COMPONENTS
)


class RecipeForm(DeskForm):
    """`rows` are the components to begin with. The product of a recipe that is not new stays."""

    name = forms.CharField(max_length=120, label=_("What you make"))
    keeping = forms.ChoiceField(
        choices=Keeping,
        initial=Keeping.DURABLE,
        widget=forms.RadioSelect,
        label=_("How it is kept"),
        help_text=_("Counts for a name that is not among your materials yet"),
    )
    pieces = forms.ChoiceField(
        choices=PieceText, initial=PieceText.SHARED, widget=forms.RadioSelect, label=_("What its pieces carry")
    )
    makes = PiecesField(
        min_value=Decimal("0.001"),
        initial=1,
        label=_("Pieces in one batch"),
        help_text=_("What the components below are enough for"),
    )
    minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=9999,
        label=_("Minutes for one batch"),
        help_text=_("Shown beside the cost, never in it"),
    )
    expected_uses = forms.IntegerField(
        min_value=1, max_value=999, initial=5, label=_("Runs it should last"), help_text=_("Its cost is shared out")
    )
    bought_price = MoneyFormField(required=False, label=_("Price of one to buy"), help_text=_("For comparison"))
    source = forms.CharField(required=False, max_length=200, label=_("Where the idea or print comes from"))
    licence = forms.CharField(required=False, max_length=120, label=_("What its maker allows"))
    note = forms.CharField(required=False, max_length=5000, widget=forms.Textarea, label=_("How it is made"))

    def __init__(
        self,
        data: Any = None,
        *,
        provider: Provider,
        rows: Sequence[dict[str, Any]] = (),
        is_new: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        if not is_new:
            del self.fields["name"], self.fields["keeping"]
        shown = [*rows, *[{}] * BLANK_ROWS][:MOST_COMPONENTS]
        self.components = ComponentRows(data, prefix="components", initial=shown, form_kwargs={"provider": provider})

    @classmethod
    def of(cls, row: Recipe) -> dict[str, Any]:
        return {**super().of(row), "name": row.product.name}

    def is_valid(self) -> bool:
        if self.is_bound and not self.components.is_valid() and not self.has_general_errors():
            self.add_error(None, _("Something is not right with the components below."))
        return super().is_valid()

    def values(self, *leave_out: str) -> dict[str, Any]:
        given = super().values(*leave_out)
        given["minutes"] = given["minutes"] or 0
        return {**given, "components": [row.to_input() for row in self.components if row.has_changed()]}


class MakeForm(DeskForm):
    on = DayField(label=_("Made on"))
    quantity = PiecesField(min_value=Decimal("0.001"), label=_("How many pieces"))
    texts = forms.CharField(
        required=False,
        max_length=4000,
        widget=forms.Textarea({"rows": 4}),
        label=_("What they carry"),
        help_text=_("One line for each piece"),
    )
    only_child_specific = forms.BooleanField(
        required=False, label=_("Only renew what changes with the roster; the rest is there already")
    )
    minutes = forms.IntegerField(required=False, min_value=0, max_value=9999, label=_("Minutes it took"))

    def __init__(self, *args: Any, recipe: Recipe, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if recipe.pieces == PieceText.SHARED:
            del self.fields["texts"], self.fields["only_child_specific"]

    def values(self, *leave_out: str) -> dict[str, Any]:
        given = super().values(*leave_out)
        given["minutes"] = given["minutes"] or 0
        return {**given, "texts": given.get("texts", "").splitlines()}


class UndoForm(DeskForm):
    reason = forms.CharField(max_length=200, label=_("Why"))


class MethodForm(DeskForm):
    cost_method = forms.ChoiceField(
        choices=CostMethod, widget=forms.RadioSelect, label=_("What a component costs when lots had different prices")
    )


class PieceForm(DeskForm):
    state = forms.ChoiceField(choices=PieceState, widget=forms.RadioSelect, label=_("What became of it"))


class RosterDayForm(forms.Form):
    day = DayField(label=_("Roster of the day"))


def rows_of(lines: Iterable[RecipeLine]) -> list[dict[str, Any]]:
    """The components of a recipe as they would be typed."""
    return [
        {
            "material": line.material.name,
            "quantity": line.quantity,
            "waste": f"{(line.waste * HUNDRED).normalize():f}" if line.waste else "",
            "child_specific": line.child_specific,
        }
        for line in lines
    ]


def typed_rows(data: QueryDict) -> list[dict[str, Any]]:
    """The components that were typed, right or not, to show them again with more empty rows."""
    rows = [
        {name: data.get(f"components-{index}-{name}", "") for name in ComponentForm.base_fields}
        for index in range(MOST_COMPONENTS)
    ]
    return [row for row in rows if any(row.values())]
