"""Pieces as a person writes them."""

from decimal import Decimal

from django import template

from provider.steps import figure

register = template.Library()


@register.filter
def pieces(count: Decimal | None) -> str:
    """`12.000` as `12`, `0.500` as `0.5`; nothing for None."""
    return "" if count is None else figure(count)
