"""Home-made things: recipes, what was made of what, and pieces that carry a child's letter or name."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from curriculum.models.materials import Acquisition, Material
from provider.fields import MoneyField, ScaledField
from provider.models import ProviderRow


class CostMethod(models.TextChoices):
    FIFO = "fifo", _("Oldest lot first")
    AVERAGE = "average", _("Average of what is on hand")


class PlayroomChoices(ProviderRow):
    """The owner's choices for her playroom: one row a business."""

    cost_method = models.CharField(max_length=8, choices=CostMethod, default=CostMethod.FIFO)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["provider"], name="playroom_choices_once"),
            models.CheckConstraint(condition=models.Q(cost_method__in=CostMethod.values), name="cost_method_known"),
        ]

    def __str__(self) -> str:
        return self.get_cost_method_display()


class PieceText(models.TextChoices):
    SHARED = "shared", _("The same for everybody")
    LETTERS = "letters", _("A child's letters")
    NAME = "name", _("A child's name")


class Recipe(ProviderRow):
    """How a home-made material is made. A changed recipe is a new row with the next `edition`.

    `makes` pieces come out of the components, in `minutes` of work.
    """

    product = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="recipes")
    edition = models.PositiveSmallIntegerField(default=1)
    pieces = models.CharField(max_length=8, choices=PieceText, default=PieceText.SHARED)
    makes = ScaledField(places=3, default=Decimal("1.000"))
    minutes = models.PositiveSmallIntegerField(default=0)
    expected_uses = models.PositiveSmallIntegerField(default=1)
    bought_price = MoneyField(null=True, blank=True, help_text=_("What the same would cost to buy, for comparison"))
    source = models.CharField(max_length=200, blank=True)
    licence = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["product", "edition"], name="recipe_edition_once"),
            models.CheckConstraint(condition=models.Q(pieces__in=PieceText.values), name="recipe_pieces_known"),
            models.CheckConstraint(condition=models.Q(makes__gt=Decimal(0)), name="recipe_makes_positive"),
            models.CheckConstraint(condition=models.Q(expected_uses__gte=1), name="recipe_has_a_use"),
        ]

    def __str__(self) -> str:
        return f"{self.product} ({self.edition})"


class RecipeLine(ProviderRow):
    """A component of a recipe: so much of a material for `recipe.makes` pieces, waste (a fraction) on top."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="lines")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="recipe_lines")
    quantity = ScaledField(places=3)
    waste = ScaledField(places=4, default=Decimal("0.0000"))
    child_specific = models.BooleanField(default=False, help_text=_("Used again whenever the roster changes"))

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["recipe", "material", "child_specific"], name="recipe_line_once"),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="recipe_line_positive"),
            models.CheckConstraint(
                condition=models.Q(waste__gte=Decimal(0)) & models.Q(waste__lt=Decimal(1)), name="recipe_line_waste"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.recipe}: {self.material}"


class Making(ProviderRow):
    """`quantity` pieces were made on a day; they are the lot `lot`."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="makings")
    lot = models.OneToOneField(Acquisition, on_delete=models.PROTECT, related_name="making")
    on = models.DateField()
    quantity = ScaledField(places=3)
    minutes = models.PositiveSmallIntegerField(default=0)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="making_positive")]

    def __str__(self) -> str:
        return f"{self.recipe.product}, {self.on}"


class ComponentUse(ProviderRow):
    """What a making took from a lot, at the cost that the business's method gave on that day."""

    making = models.ForeignKey(Making, on_delete=models.PROTECT, related_name="components")
    lot = models.ForeignKey(Acquisition, on_delete=models.PROTECT, related_name="component_uses")
    quantity = ScaledField(places=3)
    cost = MoneyField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["making", "lot"], name="component_use_once"),
            models.CheckConstraint(condition=models.Q(quantity__gt=Decimal(0)), name="component_use_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.making}: {self.lot}"


class PieceState(models.TextChoices):
    GOOD = "good", _("Good")
    PUT_BY = "put_by", _("Put by for later")
    BROKEN = "broken", _("Broken or lost")


class MarkedPiece(ProviderRow):
    """A piece of a lot that carries letters or a name."""

    lot = models.ForeignKey(Acquisition, on_delete=models.PROTECT, related_name="marked_pieces")
    text = models.CharField(max_length=60)
    state = models.CharField(max_length=6, choices=PieceState, default=PieceState.GOOD)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(state__in=PieceState.values), name="marked_piece_state_known")
        ]

    def __str__(self) -> str:
        return self.text
