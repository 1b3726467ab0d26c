"""What Today says about papers."""

from collections.abc import Iterator
from datetime import date

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.doors import Notice
from provider.models import Provider, Role
from provider.selectors.papers import family_papers_due, own_papers_due


def papers_due(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """One line for the families' papers and one for the owner's own, whatever their number."""
    if role != Role.OWNER:
        return
    if own := own_papers_due(provider, today):
        text = ngettext(
            "%(n)d paper of your own lapses within 30 days or has lapsed: %(first)s.",
            "%(n)d papers of your own lapse within 30 days or have lapsed, first: %(first)s.",
            len(own),
        ) % {"n": len(own), "first": own[0].paper}
        yield Notice(text, reverse("provider:own_papers", args=[provider.slug]), _("See your papers"), "caution")
    if families := family_papers_due(provider, today):
        text = ngettext(
            "%(n)d paper of a family lapses within 30 days or has lapsed.",
            "%(n)d papers of families lapse within 30 days or have lapsed.",
            len(families),
        ) % {"n": len(families)}
        yield Notice(text, reverse("provider:papers_due", args=[provider.slug]), _("See which"), "caution")
