"""Reading receipts: the list, one receipt with its parts, and what the form offers."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Max, Prefetch, QuerySet, Sum
from django.utils.translation import gettext as _

from billing.models import Asset, Receipt, ReceiptLine, ShareBasis, Tender
from billing.rulebook import categories
from billing.selectors.home_share import BusinessAmount, HomeShareOfYear, business_amount, share_for
from curriculum.models import How, Material
from curriculum.selectors.runs import lot_choices, run_choices, run_on
from provider.models import AuditEntry, Provider, StoredFile
from provider.money import ZERO

SHOPS_OFFERED = 200
LOTS_OFFERED = timedelta(days=731)  # by the day they came

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class LineOfReceipt:
    """A line with the business and personal part of its cost; both unknown while the home share is."""

    line: ReceiptLine
    category: str
    target: str
    parts: BusinessAmount


@dataclass(frozen=True, slots=True)
class Deed:
    """One entry of the trail; each change is (what, before, after)."""

    entry: AuditEntry
    changes: Sequence[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class ReceiptPage:
    """One receipt with all that its page shows. `home` is there when a line needs the home share."""

    receipt: Receipt
    lines: Sequence[LineOfReceipt]
    tenders: Sequence[Tender]
    returns: Sequence[Receipt]
    twins: Sequence[Receipt]
    home: HomeShareOfYear | None
    history: Sequence[Deed]

    @property
    def business(self) -> Decimal:
        """The business part of the lines whose share is known."""
        return sum((row.parts.business for row in self.lines if row.parts.business is not None), ZERO)

    @property
    def personal(self) -> Decimal:
        return sum((row.parts.personal for row in self.lines if row.parts.personal is not None), ZERO)

    @property
    def waiting(self) -> bool:
        """Whether a line cannot be divided yet."""
        return any(row.parts.business is None for row in self.lines)

    @property
    def provisional(self) -> bool:
        return any(row.parts.provisional for row in self.lines)


def receipts_of(provider: Provider) -> QuerySet[Receipt]:
    """The provider's receipts, the latest first, ready for the list."""
    lines = ReceiptLine.objects.select_related("run__theme", "lot__material", "asset").order_by("position")
    return (
        Receipt.objects.filter(provider=provider)
        .select_related("paper")
        .prefetch_related(Prefetch("lines", lines))
        .order_by("-bill_date", "-pk")
    )


def total_of(receipts: QuerySet[Receipt]) -> Decimal:
    """What the receipts in the books come to; voided ones count for nothing."""
    # The list's joins and order would only slow the sum.
    kept = Receipt.objects.filter(pk__in=receipts.order_by().values("pk"), voided_at__isnull=True)
    return kept.aggregate(sum=Sum("total"))["sum"] or ZERO


def receipt_page(receipt: Receipt, today: date) -> ReceiptPage:
    """Everything about one receipt."""
    provider = receipt.provider
    lines = list(receipt.lines.select_related("run__theme", "lot__material", "asset").order_by("position"))
    by_home = any(line.share_basis == ShareBasis.HOME for line in lines)
    home = share_for(provider, receipt.bill_date.year, today) if by_home else None
    twins = (
        Receipt.objects.filter(provider=provider, paper=receipt.paper_id, voided_at__isnull=True)
        .exclude(pk=receipt.pk)
        .order_by("pk")
        if receipt.paper_id
        else []
    )
    return ReceiptPage(
        receipt=receipt,
        lines=[
            LineOfReceipt(
                line,
                _(categories()[line.category].name) if line.category in categories() else line.category,
                str(line.run or line.lot or line.asset or line.get_target_display()),
                business_amount(line, home),
            )
            for line in lines
        ],
        tenders=list(receipt.tenders.order_by("pk")),
        returns=list(receipt.returned_by.order_by("bill_date", "pk")),
        twins=list(twins),
        home=home,
        history=_history(receipt),
    )


def _history(receipt: Receipt) -> list[Deed]:
    """What was done to the receipt, the latest first."""
    words = {
        "shop": _("Shop"),
        "bill_date": _("Date on the receipt"),
        "paid_date": _("Paid on another day"),
        "total": _("Total"),
        "tax": _("Sales tax"),
        "discount": _("Discount"),
        "note": _("Note"),
        "paper": _("Paper"),
        "paid": _("Paid by"),
    }
    trail = AuditEntry.objects.filter(provider=receipt.provider, object_public_id=receipt.public_id)
    return [
        Deed(
            entry,
            [
                (words.get(name, name), old or "–", new or "–")
                for name, (old, new) in entry.changes.items()
                if not name.startswith("void")
            ],
        )
        for entry in trail.order_by("-at", "-pk")
    ]


@dataclass(frozen=True, slots=True)
class Offer:
    """What the boxes of the form suggest. `targets` are grouped choices whose values are `kind:public id`."""

    targets: list[Any]
    default_target: str
    shops: Sequence[str]
    materials: Sequence[str]


def offer(provider: Provider, day: date, also: Iterable[ReceiptLine] = ()) -> Offer:
    """Suggestions for a receipt of `day`: the run of that day comes first, then the runs around it.

    Lots are those of the last two years. The targets of the lines `also` are offered whatever their age, so that a
    correction can keep them.
    """
    also = list(also)
    current = run_on(provider, day)
    runs = _with(run_choices(provider, day), (line.run for line in also))
    # A receipt belongs to a lot of its time; each line of the form repeats the choices.
    recent = lot_choices(provider).exclude(how=How.GIVEN).filter(on__gte=day - LOTS_OFFERED)
    lots = _with(recent, (line.lot for line in also))
    shops = (
        Receipt.objects.filter(provider=provider)
        .values("shop")
        .annotate(last=Max("bill_date"))
        .order_by("-last", "shop")[:SHOPS_OFFERED]
    )
    now = [(_("This month's theme"), [(f"run:{current.public_id}", str(current.theme))])] if current else []
    return Offer(
        targets=[
            *now,
            (_("Another theme"), [(f"run:{run.public_id}", str(run)) for run in runs if run != current]),
            (
                _("A material that lasts"),
                [
                    ("lot:new", _("New material …")),
                    *((f"lot:{lot.public_id}", str(lot)) for lot in lots),
                ],
            ),
            (
                _("Equipment"),
                [
                    ("asset:new", _("New equipment …")),
                    *(
                        (f"asset:{asset.public_id}", asset.name)
                        for asset in Asset.objects.filter(provider=provider).order_by("name")
                    ),
                ],
            ),
            (_("Neither"), [("household", _("The household")), ("none", _("Nothing in particular"))]),
        ],
        default_target=f"run:{current.public_id}" if current else "none",
        shops=[shop["shop"] for shop in shops],
        materials=list(Material.objects.filter(provider=provider).order_by("name").values_list("name", flat=True)),
    )


def _with(offered: Iterable[T], kept: Iterable[T | None]) -> list[T]:
    return list(dict.fromkeys([*offered, *(row for row in kept if row is not None)]))


def holds_paper(stored: StoredFile) -> bool:
    """Whether a receipt refers to this paper."""
    return Receipt.objects.filter(provider=stored.provider_id, paper=stored).exists()
