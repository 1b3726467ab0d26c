"""Receipts of a month: groceries and the like, bills, things bought once, and what the theme needs."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from random import Random

from django.core.files.base import ContentFile

from billing.demo.books import SHOP, Books, Data, Lot
from billing.demo.picture import receipt_picture
from billing.demo.playroom import laid_out_on
from billing.models import PaidBy, Receipt, ReceiptLine, ShareBasis, ShareRule, Target
from billing.services.receipts import LineInput, NewThing, ReceiptInput, TenderInput, file_receipt
from provider.money import ZERO, round_half_up
from provider.periods import DateSpan
from provider.services.files import store_upload

RETURN_MONTHS = (2, 6, 10)
STAPLES = 3
GIFT_CARD = Decimal("10.00")


def plan_shopping(books: Books) -> None:
    data = books.data
    for number, month in enumerate(books.months):
        for shop in data["shops"]:
            _plan_visits(books, shop, month)
        for bill in data.get("bills", ()):
            if month.start.month in bill.get("months", range(1, 13)):
                day = month.start.replace(day=bill["day"])
                books.at(day, SHOP, partial(_file_bill, books, bill, day))
        _plan_theme_shopping(books, data["order"][number % len(data["order"])], month)
    for given in data.get("purchases", ()):
        books.at(given["on"], SHOP, partial(_file_purchase, books, given))


def _plan_visits(books: Books, shop: Data, month: DateSpan) -> None:
    """Visits spread over the month; three times a year something goes back."""
    dice = books.dice(f"visits to {shop['name']}", month.start)
    every = month.days // shop["visits"]
    for number in range(shop["visits"]):
        day = month.start + timedelta(days=number * every + dice.randrange(every))
        is_returned = number == 0 and "returns" in shop and month.start.month in RETURN_MONTHS
        books.at(day, SHOP, partial(_visit, books, shop, day, is_returned=is_returned))


def _visit(books: Books, shop: Data, day: date, *, is_returned: bool) -> None:
    dice = books.dice(f"basket from {shop['name']}", day)
    wanted = dice.sample(shop["items"], min(len(shop["items"]), dice.randint(*shop["lines"])))
    if is_returned:
        wanted = [item for item in wanted if item["what"] != shop["returns"]]
        wanted.append(next(item for item in shop["items"] if item["what"] == shop["returns"]))
    lines = [_line(item, _price(dice, item["price"])) for item in wanted]
    tenders: tuple[TenderInput, ...] = (TenderInput(shop["paid_by"]),)
    receipt = _receipt(books, shop["name"], day, lines, tenders)
    if receipt.total > 2 * GIFT_CARD and dice.randrange(8) == 0:
        receipt = replace(receipt, tenders=(TenderInput(PaidBy.GIFT_CARD, GIFT_CARD), *tenders))
    filed = _file(books, receipt)
    if is_returned:
        books.at(day + timedelta(days=4), SHOP, partial(_give_back, books, filed, lines[-1]))


def _give_back(books: Books, bought: Receipt, line: LineInput) -> None:
    back = replace(line, amount=-line.amount)
    tender = bought.tenders.order_by("-amount")[0]
    receipt = _receipt(books, bought.shop, books.day, [back], (TenderInput(tender.paid_by),))
    file_receipt(**books.writer, receipt=replace(receipt, note="Wrong size"), return_of=bought.public_id)


def _file_bill(books: Books, bill: Data, day: date) -> None:
    price = _price(books.dice(f"bill for {bill['what']}", day), bill["price"])
    _file(books, _receipt(books, bill["shop"], day, [_line(bill, price)], (TenderInput(bill["paid_by"]),)))


def _file_purchase(books: Books, given: Data) -> None:
    lines = [_line(row, Decimal(row["price"])) for row in given["lines"]]
    _file(books, _receipt(books, given["shop"], given["on"], lines, (TenderInput(given["paid_by"]),)))


def _plan_theme_shopping(books: Books, name: str, month: DateSpan) -> None:
    """What lies out from the first day is bought in the week before it, the rest when it is needed."""
    given = next(theme for theme in books.data["themes"] if theme["name"] == name)
    dice = books.dice("theme shopping", month.start)
    before = laid_out_on(books, month) - timedelta(days=dice.randint(2, 4))
    books.at(before, SHOP, partial(_buy_for_theme, books, given, month))
    later = month.start + timedelta(days=dice.randint(8, 17))
    books.at(later, SHOP, partial(_top_up, books, given, month))


def _buy_for_theme(books: Books, given: Data, month: DateSpan) -> None:
    run, shops = books.runs[month.start], books.data["theme_shops"]
    new = [
        replace(_line(row, Decimal(row["price"])), target=Target.RUN, target_id=run.public_id)
        for row in given.get("spent", ())[:1]
    ]
    new += [_thing(row) for row in given.get("used", ()) if not books.lots_left(row["name"])]
    wanted = [row for row in given.get("kept", ()) if "price" in row and not books.lots_left(row["name"])]
    new += [_thing(row) for row in wanted if row["how"] == "bought"]
    coupon = Decimal(shops["coupon"]) if len(new) > 2 else ZERO
    _file_theme_receipt(books, shops["new"], new, month, coupon=coupon)
    _file_theme_receipt(books, shops["second_hand"], [_thing(row) for row in wanted if row["how"] == "second_hand"])


def _top_up(books: Books, given: Data, month: DateSpan) -> None:
    """The rest of what the theme uses up, with something for the house on the same slip."""
    run, shops = books.runs[month.start], books.data["theme_shops"]
    dice = books.dice("top up", month.start)
    lines = [
        replace(_line(row, Decimal(row["price"])), target=Target.RUN, target_id=run.public_id)
        for row in given.get("spent", ())[1:]
    ]
    staples = shops.get("staples", ())
    lines += [
        replace(_line(row, _price(dice, row["range"])), target=Target.RUN, target_id=run.public_id)
        for row in dice.sample(staples, min(STAPLES, len(staples)))
    ]
    card = _price(dice, ["5.40", "12.90"])
    lines.append(LineInput("Birthday card and ribbon", card, "other", share_rule=ShareRule.PERSONAL))
    _file_theme_receipt(books, shops["new"], lines)


def _file_theme_receipt(
    books: Books, shop: str, lines: list[LineInput], pictured: DateSpan | None = None, coupon: Decimal = ZERO
) -> None:
    if not lines:
        return
    receipt = _receipt(books, shop, books.day, lines, (TenderInput(PaidBy.CREDIT),), coupon)
    if pictured and pictured.start.month in books.data.get("pictured_months", ()):
        upload = ContentFile(receipt_picture(receipt), name=f"receipt-{receipt.bill_date}.jpg")
        paper = store_upload(provider=books.provider, actor=books.owner, upload=upload)
        receipt = replace(receipt, paper=paper.public_id)
    filed = _file(books, receipt)
    for line in ReceiptLine.objects.filter(receipt=filed, target=Target.LOT).select_related("lot__material"):
        lot = line.lot
        if lot is not None:
            books.lots.setdefault(lot.material.name, []).append(Lot(lot, lot.quantity))


def _thing(row: Data) -> LineInput:
    new = NewThing(row["name"], row.get("uses", 1), second_hand=row.get("how") == "second_hand")
    quantity = Decimal(row["quantity"])
    category = "craft_supplies" if "unit" in row else "toys_books"
    return LineInput(
        row["name"],
        Decimal(row["price"]),
        category,
        quantity,
        taxable=not new.second_hand,
        target=Target.LOT,
        new=new,
    )


def _line(row: Data, amount: Decimal) -> LineInput:
    """A line of the lists; `for` says who bears it. Without it a line is for a theme, and taxed as a rule."""
    line = LineInput(row["what"], amount, row.get("category", "craft_supplies"), taxable=row.get("taxed", False))
    if "for" not in row:
        return replace(line, taxable=row.get("taxed", True))
    if asset := row.get("asset"):
        line = replace(line, target=Target.ASSET, new=NewThing(asset))
    if row["for"] in (ShareBasis.FIXED, ShareBasis.MEASURED):
        return replace(
            line,
            share_rule=ShareRule.SHARED,
            share_basis=row["for"],
            share=Decimal(row["share"]),
            share_reason=row["why"],
        )
    if row["for"] == ShareBasis.HOME:
        return replace(line, share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME, target=Target.HOUSEHOLD)
    return replace(line, share_rule=row["for"])


def _receipt(
    books: Books,
    shop: str,
    day: date,
    lines: Sequence[LineInput],
    tenders: tuple[TenderInput, ...],
    coupon: Decimal = ZERO,
) -> ReceiptInput:
    """Add the lines up as a till does: discount, then sales tax on what is taxed."""
    amount = sum((line.amount for line in lines), ZERO)
    discount = round_half_up(amount * coupon)
    taxed = sum((line.amount for line in lines if line.taxable), ZERO) * (1 - coupon)
    tax = round_half_up(taxed * books.data["sales_tax"])
    total = amount - discount + tax
    return ReceiptInput(shop, day, total, tuple(lines), tenders, tax=tax, discount=discount, paid_date=day)


def _file(books: Books, receipt: ReceiptInput) -> Receipt:
    return file_receipt(**books.writer, receipt=receipt)


def _price(dice: Random, between: Sequence[str]) -> Decimal:
    low, high = (int(Decimal(end) * 100) for end in between)
    return Decimal(dice.randint(low, high)).scaleb(-2)
