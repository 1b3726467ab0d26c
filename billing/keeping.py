"""What the books must keep about a family: issued invoices and payments, and whatever is still owed."""

from collections.abc import Iterator
from datetime import date

from django.db.models import Max
from django.utils.translation import gettext as _

from billing.models import Invoice, Payment
from billing.selectors.balances import family_account
from provider.doors import Kept
from provider.models import Household
from provider.money import format_money
from provider.retention import keep_until


def keep_money(household: Household, today: date) -> Iterator[Kept]:
    """An open balance stands in the way of erasing; invoices and payments stay until their date."""
    account = family_account(household, today)
    if account.balance:
        told = _("%(amount)s is open on the account. Settle it first.") % {"amount": format_money(account.balance, "$")}
        yield Kept(_("Balance"), told, None)
    issued = Invoice.objects.filter(household=household).aggregate(last=Max("issued_on"))["last"]
    paid = Payment.objects.filter(household=household, voided_at=None).aggregate(last=Max("on"))["last"]
    last = max((day for day in (issued, paid) if day), default=None)
    if last:
        place = household.provider
        keep = keep_until("money", place.country, place.region, last=last, care_end=last)
        if keep.until and keep.rule:
            yield Kept(_("Invoices and payments"), keep.rule.source, keep.until)
