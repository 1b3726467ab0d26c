"""Tables of the theme pages."""

from collections.abc import Iterable
from decimal import Decimal

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _

from curriculum.forms.materials import KINDS
from curriculum.models import Condition, Keeping, Material
from curriculum.selectors.stock import on_hand_of
from provider.steps import figure


def _address(record: Material, table: "MaterialTable") -> str:
    return reverse("curriculum:material", args=[table.slug, record.public_id])


class MaterialTable(tables.Table):
    """Materials with the pieces on hand, which are counted for the rows of the page shown only."""

    name = tables.Column(verbose_name=_("Material"), linkify=_address)
    keeping = tables.Column(verbose_name=_("Kind"))
    place = tables.Column(verbose_name=_("Place"), order_by=("bin__label", "place"), empty_values=())
    on_hand = tables.Column(
        verbose_name=_("On hand"), empty_values=(), orderable=False, attrs={"cell": {"class": "num"}}
    )

    class Meta:
        template_name = "django_tables2/playroom.html"
        order_by = "name"
        empty_text = _("Nothing was found. Try fewer letters of the word.")

    def __init__(self, data: Iterable[Material], *, slug: str) -> None:
        super().__init__(data)
        self.slug = slug
        self.pieces: dict[int, Decimal] = {}

    def count_pieces(self) -> None:
        self.pieces = on_hand_of([row.record for row in self.paginated_rows])

    def render_name(self, record: Material) -> str:
        if record.condition == Condition.GOOD:
            return record.name
        return f"{record.name} ({record.get_condition_display().lower()})"

    def render_keeping(self, record: Material) -> str:
        return str(KINDS[Keeping(record.keeping)])

    def render_place(self, record: Material) -> str:
        if record.bin is None:
            return record.place or "–"
        return format_html(
            '<a href="{}">{}</a>', reverse("curriculum:bin", args=[self.slug, record.bin.public_id]), record.bin
        )

    def render_on_hand(self, record: Material) -> str:
        return figure(self.pieces[record.pk])
