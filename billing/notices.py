"""What Today says about money."""

from collections.abc import Iterator
from datetime import date

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from billing.selectors.balances import family_balances
from billing.selectors.month import month_preview
from provider.doors import Notice
from provider.models import Provider, Role
from provider.money import format_money


def month_to_issue(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """Invoices of this month that are not issued yet, and children who cannot be invoiced."""
    if role != Role.OWNER:
        return
    preview = month_preview(provider, today.year, today.month)
    url = reverse("billing:invoice_month", args=[provider.slug, preview.span.start])
    month = date_format(today, "YEAR_MONTH_FORMAT")
    if preview.problems:
        count = len({problem.enrolment.pk for problem in preview.problems})
        text = ngettext(
            "%(count)d child cannot be invoiced for %(month)s yet.",
            "%(count)d children cannot be invoiced for %(month)s yet.",
            count,
        ) % {"count": count, "month": month}
        yield Notice(text, url, _("See why"), "caution")
    if preview.drafts:
        count = len(preview.drafts)
        text = ngettext(
            "%(count)d invoice for %(month)s is not issued.", "%(count)d invoices for %(month)s are not issued.", count
        ) % {"count": count, "month": month}
        yield Notice(text, url, _("Look and issue"))


def overdue_families(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """One line for each family that owes something past its due day; for the owner."""
    if role != Role.OWNER:
        return
    for family in family_balances(provider, today):
        if family.overdue and family.oldest_due:
            text = _("%(family)s owes %(amount)s, due since %(day)s.") % {
                "family": family.name,
                "amount": format_money(family.overdue, "$"),
                "day": date_format(family.oldest_due),
            }
            url = reverse("billing:statement", args=[provider.slug, family.household.public_id])
            yield Notice(text, url, _("See the account"), "caution")
