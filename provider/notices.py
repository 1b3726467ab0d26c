"""What Today says about safety."""

from collections.abc import Iterator
from datetime import date

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.doors import Notice
from provider.models import Provider, Reminder, Role
from provider.selectors.safety import due, unsigned_incidents

STAFF = (Role.OWNER, Role.HELPER)


def incidents_to_sign(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """Reports of which a parent was not told, or which no parent signed."""
    if role not in STAFF:
        return
    if rows := unsigned_incidents(provider):
        text = ngettext(
            "%(n)d incident report waits for a parent.", "%(n)d incident reports wait for a parent.", len(rows)
        ) % {"n": len(rows)}
        yield Notice(text, reverse("provider:safety", args=[provider.slug]), _("See which"), "caution")


def safety_due(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """Drills and home checks that are due soon or late."""
    if role not in STAFF:
        return
    for each in due(provider, today):
        if each.is_near(today):
            view = "drill_add" if each.what == Reminder.DRILL else "home_check_add"
            words = {"what": Reminder(each.what).label, "day": date_format(each.due_on)}
            late = each.is_late(today)
            text = (_("%(what)s was due on %(day)s.") if late else _("%(what)s is due on %(day)s.")) % words
            url = reverse(f"provider:{view}", args=[provider.slug])
            yield Notice(text, url, _("Record it"), "caution" if late else "info")
