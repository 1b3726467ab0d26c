"""Pieces as a person writes them."""

from decimal import Decimal

from django import template
from django.utils.translation import gettext as _

from curriculum.models import PutAway
from provider.steps import figure

register = template.Library()


@register.filter
def pieces(count: Decimal | None) -> str:
    """`12.000` as `12`, `0.500` as `0.5`; nothing for None."""
    return "" if count is None else figure(count)


@register.filter
def counted(row: PutAway) -> str:
    """A put-away count in words: `9 back, 1 broken`."""
    parts = (
        (row.returned, _("%(n)s back")),
        (row.used_up, _("%(n)s used up")),
        (row.broken, _("%(n)s broken")),
        (row.missing, _("%(n)s missing")),
        (row.mended, _("%(n)s mended since")),
    )
    return ", ".join(words % {"n": figure(number)} for number, words in parts if number)
