"""Filing store receipts: lines costed to the cent, targets checked."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TypeVar

from django.db.models import Sum
from django.utils.translation import gettext as _

from billing.models import Asset, PaidBy, Receipt, ReceiptLine, ShareBasis, ShareRule, Target, Tender
from billing.rulebook import UnknownCategory, category
from billing.services.lots import came_with_receipt, lots_of, settle_lots
from billing.splitting import (
    DiscountTooLarge,
    NoLines,
    NothingTaxable,
    TotalsDisagree,
    allocate,
    tenders_agree,
)
from billing.splitting import ReceiptLine as Printed
from curriculum.models import Acquisition, How, ThemeRun
from curriculum.services.materials import acquire, amend, has_recipe
from provider.desk import Desk, writing
from provider.errors import DomainError, ForeignRow, StaleRow
from provider.models import Provider, ProviderRow, StoredFile, User
from provider.money import ZERO, format_money

RowT = TypeVar("RowT", bound=ProviderRow)

EARLIEST = date(1990, 1, 1)
FOR_THE_BUSINESS = frozenset({Target.RUN, Target.LOT, Target.ASSET})


class LineRefused(DomainError):
    """Something is wrong with the line at `index` (from 0)."""

    def __init__(self, message: str, *, index: int, field: str | None = None) -> None:
        super().__init__(message, field=field)
        self.index = index


class LinesDoNotAddUp(DomainError):
    """`difference` = what the receipt says less what its lines come to."""

    def __init__(self, total: Decimal, difference: Decimal) -> None:
        # A return is talked about by what was given back.
        sign = -1 if total < 0 else 1
        off = sign * difference
        message = (
            _("The lines come to %(sum)s; the receipt says %(total)s: %(off)s is missing.")
            if off > 0
            else _("The lines come to %(sum)s; the receipt says %(total)s: %(off)s too much.")
        )
        super().__init__(
            message
            % {
                "sum": format_money(sign * (total - difference)),
                "total": format_money(sign * total),
                "off": format_money(abs(off)),
            },
            field="total",
        )
        self.difference = difference


@dataclass(frozen=True, slots=True)
class NewThing:
    """A material lot or an asset that comes into the books with the line; a lot of a known material keeps its name."""

    name: str
    expected_uses: int = 1
    second_hand: bool = False


@dataclass(frozen=True, slots=True)
class LineInput:
    """A line as printed. `target_id` is the public id of the run, lot or asset; `new` stands for one yet to be made.

    `share` is a fraction of one with four places, for a measured or fixed share only.
    """

    description: str
    amount: Decimal
    category: str
    quantity: Decimal = Decimal("1.000")
    taxable: bool = True
    share_rule: str = ShareRule.BUSINESS
    share_basis: str = ""
    share: Decimal | None = None
    share_reason: str = ""
    target: str = Target.NONE
    target_id: str = ""
    new: NewThing | None = None


@dataclass(frozen=True, slots=True)
class TenderInput:
    """One way it was paid. At most one tender leaves out its amount: it takes what the others leave."""

    paid_by: str = PaidBy.DEBIT
    amount: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ReceiptInput:
    """A whole receipt as typed. `tax` and `discount` are those of the whole slip, positive on a purchase.

    A return has a negative total and lines, and mirrored tax and discount. `paper` is the public id of a stored file.
    """

    shop: str
    bill_date: date
    total: Decimal
    lines: Sequence[LineInput]
    tenders: Sequence[TenderInput] = field(default_factory=lambda: (TenderInput(),))
    tax: Decimal = ZERO
    discount: Decimal = ZERO
    paid_date: date | None = None
    note: str = ""
    paper: str = ""


def file_receipt(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    receipt: ReceiptInput,
    return_of: str = "",
) -> Receipt:
    """File a receipt; `return_of` is the public id of the purchase that it takes back.

    Raises DomainError with the field, LineRefused with the line, LinesDoNotAddUp, PeriodLocked, ForeignRow.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Receipt):
            return earlier
        bought = _find(desk, Receipt, return_of) if return_of else None
        row = Receipt(provider=desk.provider, returns=bought)
        _write(desk, row, receipt, today=today)
        verb = "return" if bought else "file"
        desk.audit(verb, row, _("Filed %(row)s: %(total)s") % {"row": row, "total": format_money(row.total)})
        desk.done(submission_key, row)
        return row


def correct_receipt(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    receipt_public_id: str,
    version: int,
    receipt: ReceiptInput,
) -> Receipt:
    """Replace what a filed receipt says; its lines are costed again and the trail keeps what changed.

    Raises StaleRow when it was saved meanwhile, and what `file_receipt` raises.
    """
    with writing(provider, actor) as desk:
        row = _open_receipt(desk, receipt_public_id, version)
        before = _described(row)
        touched = lots_of(row)
        came_with = {lot.pk for lot in touched if came_with_receipt(lot, row)}
        _write(desk, row, receipt, today=today)
        for lot in lots_of(row):
            if lot.pk in came_with and not came_with_receipt(lot, row):
                amend(desk, lot, on=row.bill_date, source=row.shop)
        settle_lots(desk, [lot for lot in touched if lot not in lots_of(row)], today=today, gone=came_with)
        after = _described(row)
        changes = {
            name: [before.get(name), after.get(name)]
            for name in {**before, **after}
            if before.get(name) != after.get(name)
        }
        desk.audit("correct", row, _("Corrected %(row)s") % {"row": row}, changes)
        return row


def void_receipt(
    *, provider: Provider, actor: User | None, today: date, receipt_public_id: str, version: int, reason: str
) -> Receipt:
    """Take a receipt out of the books. Lots that came with it go too, unless they already lay out in a run."""
    with writing(provider, actor) as desk:
        row = _open_receipt(desk, receipt_public_id, version)
        if row.returned_by.filter(voided_at__isnull=True).exists():
            raise DomainError(_("Something was given back from this receipt. Void the return first."))
        touched = lots_of(row)
        came_with = {lot.pk for lot in touched if came_with_receipt(lot, row)}
        desk.void(row, reason=reason)
        settle_lots(desk, touched, today=today, gone=came_with)
        return row


def _open_receipt(desk: Desk, public_id: str, version: int) -> Receipt:
    row = _find(desk, Receipt, public_id)
    if row.version != version:
        raise StaleRow(row)
    if row.voided_at:
        raise DomainError(_("This receipt was voided. File it anew."))
    desk.require_open(row.bill_date, row.paid_date, field="bill_date")
    return row


def _write(desk: Desk, row: Receipt, given: ReceiptInput, *, today: date) -> None:
    _check_dates(desk, given, today)
    _check_direction(row, given)
    costs = _costs(given)
    tenders = _tenders(given)
    row.shop, row.bill_date, row.paid_date = given.shop.strip(), given.bill_date, given.paid_date
    row.total, row.tax, row.discount, row.note = given.total, given.tax, given.discount, given.note
    row.paper = _find(desk, StoredFile, given.paper, field="file") if given.paper else None
    desk.save(row)
    _check_returns(row)
    # A tender is nothing that anybody points at.
    row.tenders.all().delete()
    for tender in tenders:
        tender.receipt, tender.provider = row, desk.provider
        desk.save(tender)
    _write_lines(desk, row, given.lines, costs)
    settle_lots(desk, lots_of(row), today=today)


def _check_dates(desk: Desk, given: ReceiptInput, today: date) -> None:
    for name, day in (("bill_date", given.bill_date), ("paid_date", given.paid_date)):
        if day is None:
            continue
        if day > today:
            raise DomainError(_("This day has not come yet."), field=name)
        if day < EARLIEST:
            raise DomainError(_("The year must be 1990 or later."), field=name)
        desk.require_open(day, field=name)


def _check_direction(row: Receipt, given: ReceiptInput) -> None:
    if row.returns is None:
        if given.total < 0:
            raise DomainError(_("The total is negative. Open the purchase and record the return there."), field="total")
        return
    if row.returns.voided_at or row.returns.returns_id:
        raise DomainError(_("Only a purchase that is in the books can be given back."))
    if given.total >= 0:
        raise DomainError(_("Enter what was given back."), field="total")
    if given.bill_date < row.returns.bill_date:
        raise DomainError(_("A return cannot be older than its purchase."), field="bill_date")


def _costs(given: ReceiptInput) -> list[Decimal]:
    """The cost of each line, adding up to the total."""
    for index, line in enumerate(given.lines):
        if line.quantity <= 0:
            raise LineRefused(_("The quantity must be above zero."), index=index, field="quantity")
    printed = [Printed(line.amount, line.taxable, line.quantity) for line in given.lines]
    try:
        allocated = allocate(printed, total=given.total, tax=given.tax, discount=given.discount)
    except NoLines as error:
        raise DomainError(_("Enter at least one line.")) from error
    except TotalsDisagree as error:
        raise LinesDoNotAddUp(given.total, error.difference) from error
    except NothingTaxable as error:
        raise DomainError(_("There is sales tax, but no line is marked as taxed."), field="tax") from error
    except DiscountTooLarge as error:
        raise DomainError(_("The discount is more than the lines come to."), field="discount") from error
    return [line.cost for line in allocated]


def _tenders(given: ReceiptInput) -> list[Tender]:
    stated = sum((tender.amount for tender in given.tenders if tender.amount is not None), ZERO)
    unstated = [tender for tender in given.tenders if tender.amount is None]
    amounts = [given.total - stated if tender.amount is None else tender.amount for tender in given.tenders]
    runs_along = all(amount * given.total > 0 or not given.total for amount in amounts)
    if len(unstated) > 1 or not amounts or not runs_along or not tenders_agree(given.total, amounts):
        raise DomainError(
            _("The ways it was paid come to %(sum)s, the receipt to %(total)s.")
            % {"sum": format_money(abs(stated)), "total": format_money(abs(given.total))},
            field="paid_by",
        )
    return [
        Tender(paid_by=tender.paid_by, amount=amount) for tender, amount in zip(given.tenders, amounts, strict=True)
    ]


def _check_returns(row: Receipt) -> None:
    """What was given back, all returns together, may not exceed the purchase."""
    bought = row.returns or row
    back = bought.returned_by.filter(voided_at__isnull=True).aggregate(sum=Sum("total"))["sum"] or ZERO
    if bought.total + back < 0:
        raise DomainError(
            _("More was given back (%(back)s) than was paid (%(paid)s).")
            % {"back": format_money(-back), "paid": format_money(bought.total)},
            field="total",
        )


def _write_lines(desk: Desk, row: Receipt, given: Sequence[LineInput], costs: Sequence[Decimal]) -> None:
    """Lines keep their rows by position, so that a correction is a change and not a new line."""
    kept = {line.position: line for line in row.lines.all()}
    made: dict[tuple[str, str], ProviderRow] = {}
    for position, (line, cost) in enumerate(zip(given, costs, strict=True), start=1):
        _check_line(line, position - 1)
        stored = kept.pop(position, None) or ReceiptLine(provider=desk.provider, receipt=row, position=position)
        for name in ("description", "quantity", "amount", "taxable", "category", "share_rule", "share_basis", "share"):
            setattr(stored, name, getattr(line, name))
        stored.share_reason, stored.cost, stored.target = line.share_reason.strip(), cost, line.target
        stored.run = stored.lot = stored.asset = None
        try:
            if line.target in FOR_THE_BUSINESS:
                setattr(stored, line.target, _target(desk, row, line, made))
            desk.save(stored)
        except DomainError as error:
            at = "target" if error.field in FOR_THE_BUSINESS or isinstance(error, ForeignRow) else error.field
            raise LineRefused(error.message, index=position - 1, field=at) from error
    for stored in kept.values():
        stored.delete()


def _check_line(line: LineInput, index: int) -> None:
    def refuse(message: str, name: str) -> LineRefused:
        return LineRefused(message, index=index, field=name)

    try:
        category(line.category)
    except UnknownCategory as error:
        raise refuse(_("Choose what kind of cost it is."), "category") from error
    if line.share_rule == ShareRule.PERSONAL and line.target in FOR_THE_BUSINESS:
        raise refuse(_("A personal line cannot be charged to a theme, a material or equipment."), "target")
    if line.share_rule == ShareRule.BUSINESS and line.target == Target.HOUSEHOLD:
        raise refuse(_("What is for the household is personal or shared."), "target")
    if line.share_rule != ShareRule.SHARED:
        if line.share_basis or line.share is not None:
            raise refuse(_("Only a shared line has a share."), "share_rule")
        return
    if not line.share_basis:
        raise refuse(_("Say how the business share is found."), "share_basis")
    if line.share_basis == ShareBasis.HOME:
        if line.share is not None:
            raise refuse(_("The home share is looked up; leave the percent empty."), "share")
        return
    if line.share is None or not 0 <= line.share <= 1:
        raise refuse(_("Enter the business share, from 0 to 100 percent."), "share")
    if not line.share_reason.strip():
        raise refuse(_("Say why this share is right: who uses it, and how you know."), "share_reason")


def _target(desk: Desk, row: Receipt, line: LineInput, made: dict[tuple[str, str], ProviderRow]) -> ProviderRow:
    """The run, lot or asset of a line. Two lines that name the same new thing, as after a split, share it."""
    if line.new is None:
        if line.target == Target.RUN:
            run = _find(desk, ThemeRun, line.target_id, field="target")
            if run.voided_at:
                raise DomainError(_("This theme was taken out of the plan."), field="target")
            return run
        if line.target == Target.ASSET:
            return _find(desk, Asset, line.target_id, field="target")
        lot = _find(desk, Acquisition, line.target_id, field="target")
        if lot.voided_at or lot.how == How.GIVEN:
            raise DomainError(
                _("This material was given or is no longer in stock, so it cost nothing."), field="target"
            )
        if has_recipe(lot):
            raise DomainError(_("This was made by a recipe. Charge what it was made of."), field="target")
        return lot
    name = line.new.name.strip()
    if not name:
        raise DomainError(_("Name the new material or equipment."), field="new_name")
    key = (line.target, name.casefold())
    if key not in made:
        made[key] = _new_asset(desk, row, name) if line.target == Target.ASSET else _new_lot(desk, row, line, name)
    return made[key]


def _new_asset(desk: Desk, row: Receipt, name: str) -> Asset:
    same = Asset.objects.filter(provider=desk.provider, name__iexact=name).first()
    return same or desk.save(Asset(provider=desk.provider, name=name, in_service_on=row.bill_date), verb="add")


def _new_lot(desk: Desk, row: Receipt, line: LineInput, name: str) -> Acquisition:
    if line.new is None or line.new.expected_uses < 1:
        raise DomainError(_("Enter in how many months' themes it should be used."), field="new_uses")
    return acquire(
        desk,
        material=name,
        on=row.bill_date,
        how=How.SECOND_HAND if line.new.second_hand else How.BOUGHT,
        quantity=line.quantity,
        expected_uses=line.new.expected_uses,
        source=row.shop,
    )


def _find(desk: Desk, model: type[RowT], public_id: str, *, field: str | None = None) -> RowT:
    row = model._default_manager.filter(provider=desk.provider, public_id=public_id).first()
    if row is None:
        raise ForeignRow(_("There is no such record in this business."), field=field)
    return row


def _described(row: Receipt) -> dict[str, str]:
    """What a receipt says, in words for the trail."""
    described = {
        "shop": row.shop,
        "bill_date": str(row.bill_date),
        "paid_date": str(row.paid_date or ""),
        "total": str(row.total),
        "tax": str(row.tax),
        "discount": str(row.discount),
        "note": row.note,
        "paper": str(row.paper or ""),
        "paid": ", ".join(f"{tender} {tender.amount}" for tender in row.tenders.order_by("pk")),
    }
    lines = row.lines.select_related("run__theme", "lot__material", "asset").order_by("position")
    for line in lines:
        share = f"{line.get_share_basis_display()} {line.share or ''} {line.share_reason}".strip()
        parts = (
            f"{line.quantity.normalize():f} × {line.description}",
            f"{line.amount} ({line.cost})",
            line.category,
            " ".join(filter(None, (line.get_share_rule_display(), share))),
            str(line.run or line.lot or line.asset or line.get_target_display()),
        )
        described[_("line %(number)d") % {"number": line.position}] = "; ".join(parts)
    return described
