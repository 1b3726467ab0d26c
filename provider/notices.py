"""What Today says: a drill or home check that is due, a report that no parent has signed yet, papers that lapse."""

from collections.abc import Iterator
from datetime import date

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.access import STAFF
from provider.doors import Notice
from provider.models import Incident, Provider, Reminder, Role
from provider.selectors.papers import family_papers_due, own_papers_due
from provider.selectors.safety import due, unsigned_incidents

ADD = {Reminder.DRILL: "provider:drill_add", Reminder.HOME_CHECK: "provider:home_check_add"}


def incidents_to_sign(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """Reports of which a parent was not told, or which no parent signed."""
    if role not in STAFF:
        return
    rows = unsigned_incidents(provider)
    if len(rows) == 1:
        url = reverse("provider:incident_told", args=[provider.slug, rows[0].public_id])
        yield Notice(_untold(rows[0], provider), url, _("Write it down"), "caution")
    elif rows:
        text = ngettext("%(n)d report waits for a parent.", "%(n)d reports wait for a parent.", len(rows))
        url = reverse("provider:safety", args=[provider.slug])
        yield Notice(text % {"n": len(rows)}, url, _("See which"), "caution")


def safety_due(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """Drills and home checks that are due soon, late, or were never done."""
    if role not in STAFF:
        return
    for each in due(provider, today):
        if not each.is_near(today):
            continue
        late = each.is_late(today)
        if each.last is None:
            text = _("%(what)s: none is recorded yet.")
        else:
            text = _("%(what)s was due on %(day)s.") if late else _("%(what)s is due on %(day)s.")
        words = {"what": each.what.label, "day": date_format(each.due_on)}
        url = reverse(ADD[each.what], args=[provider.slug])
        yield Notice(text % words, url, _("Record it"), "caution" if late else "info")


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


def _untold(row: Incident, provider: Provider) -> str:
    told = {"child": row.child, "day": date_format(row.happened_at.astimezone(provider.zone))}
    if row.told_at is None:
        return _("Tell the parents of %(child)s about %(day)s.") % told
    return _("The report on %(child)s of %(day)s is not signed.") % told
