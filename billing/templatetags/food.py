"""Words of the food programme."""

from django import template
from django.utils.html import format_html
from django.utils.translation import gettext as _

from billing.food import Checked, Group, NotClaimed
from billing.selectors.food_claim import reason_words

register = template.Library()


@register.filter
def meal_group(group: Group) -> str:
    return {"breakfast": _("Breakfast"), "lunch": _("Lunch"), "supper": _("Supper"), "snack": _("Snack")}[group]


@register.filter
def not_claimed(reason: NotClaimed) -> str:
    return reason_words(reason)


@register.filter
def checked_badge(checked: Checked) -> str:
    """How a figure of a rule file was checked."""
    if checked == "published":
        return format_html('<span class="badge done">{}</span>', _("read in its text"))
    words = _("read at second hand") if checked == "second_hand" else _("from memory")
    return format_html('<span class="badge caution">{}</span>', words)
