"""What Today says about materials: what is to be cleaned, recalls to look up again, pieces that the roster misses."""

from collections.abc import Iterator
from datetime import date

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from curriculum.selectors.cleaning import due_cleanings
from curriculum.selectors.making import missing_pieces
from curriculum.selectors.screening import recalls_to_repeat
from provider.access import STAFF
from provider.doors import Notice
from provider.models import Provider, Role


def cleaning_due(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    if role in STAFF and (count := len(due_cleanings(provider, today))):
        text = ngettext("%(count)d thing is to be cleaned.", "%(count)d things are to be cleaned.", count)
        yield Notice(text % {"count": count}, reverse("curriculum:cleaning", args=[provider.slug]), _("See which"))


def recalls_due(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    if role == Role.OWNER and (count := len(recalls_to_repeat(provider, today))):
        text = ngettext(
            "Look again whether %(count)d thing was recalled.",
            "Look again whether %(count)d things were recalled.",
            count,
        )
        url = reverse("curriculum:recalls", args=[provider.slug])
        yield Notice(text % {"count": count}, url, _("See which"), "caution")


def pieces_missing(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    if role not in STAFF:
        return
    if missing := missing_pieces(provider, today):
        count = sum(missing.values())
        text = ngettext(
            "The roster changed: %(count)d piece with letters or a name is missing (%(games)s).",
            "The roster changed: %(count)d pieces with letters or names are missing (%(games)s).",
            count,
        )
        told = {"count": count, "games": ", ".join(str(recipe.product) for recipe in missing)}
        yield Notice(text % told, reverse("curriculum:remake", args=[provider.slug]), _("See the remake list"))
