"""The cost of material lots, written from the receipt lines that paid for them, at the desk of another service."""

from collections.abc import Collection, Iterable
from datetime import date

from django.utils.translation import gettext as _

from billing.models import Receipt, ReceiptLine, ShareBasis
from billing.selectors.home_share import business_amounts, shares_for
from curriculum.models import Acquisition
from curriculum.services.materials import amend, withdraw
from provider.desk import Desk
from provider.errors import DomainError
from provider.money import ZERO


def lots_of(row: Receipt) -> list[Acquisition]:
    """The lots in stock that a receipt pays for."""
    return list(Acquisition.objects.filter(receipt_lines__receipt=row, voided_at__isnull=True).distinct())


def came_with_receipt(lot: Acquisition, row: Receipt) -> bool:
    """Whether the lot was made by the receipt, rather than an older one that the receipt also pays for."""
    return lot.on == row.bill_date and lot.source == row.shop


def settle_lots(desk: Desk, lots: Iterable[Acquisition], *, today: date, gone: Collection[int] = ()) -> int:
    """Write each lot's cost as the business part of its lines, and void those in `gone` that no line pays for any more.

    A line by the home share counts with the share known today, and whole while none is known; when that
    share changes, `settle_lots_of_year` writes it anew. Returns how many costs changed.
    """
    lots = list(lots)
    lines = (
        list(ReceiptLine.objects.filter(lot__in=lots, receipt__voided_at__isnull=True).select_related("receipt"))
        if lots
        else []
    )
    years = {line.receipt.bill_date.year for line in lines if line.share_basis == ShareBasis.HOME}
    parts = business_amounts(lines, shares_for(desk.provider, years, today))
    changed = 0
    for lot in lots:
        own = [line for line in lines if line.lot_id == lot.pk]
        if not own and lot.pk in gone:
            withdraw(desk, lot, reason=_("Its receipt was corrected or voided."))
            continue
        business = [line.cost if (part := parts[line.pk].business) is None else part for line in own]
        basis = sum(business, ZERO)
        if basis < 0:
            raise DomainError(
                _("More was given back of “%(lot)s” than it cost.") % {"lot": lot.material.name}, field="total"
            )
        if basis != lot.basis:
            amend(desk, lot, basis=basis, residual=min(lot.residual, basis))
            changed += 1
    return changed


def settle_lots_of_year(desk: Desk, *, year: int, today: date) -> int:
    """Write anew the cost of lots got in `year` and paid for by its home share; how many changed.

    For the services that change that share: it is part of their transaction.
    """
    lots = Acquisition.objects.filter(
        provider=desk.provider,
        voided_at__isnull=True,
        on__year=year,
        receipt_lines__receipt__bill_date__year=year,
        receipt_lines__receipt__voided_at__isnull=True,
        receipt_lines__share_basis=ShareBasis.HOME,
    ).distinct()
    return settle_lots(desk, lots, today=today)
