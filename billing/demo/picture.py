"""A drawn picture of a till slip, so that the example has papers without anybody's real one."""

from io import BytesIO

from PIL import Image, ImageDraw, ImageFont

from billing.services.receipts import ReceiptInput
from provider.money import format_money

WIDTH, MARGIN, STEP = 620, 44, 34


def receipt_picture(receipt: ReceiptInput) -> bytes:
    """The slip as a JPEG: shop, date, lines, discount, tax and total."""
    rows: list[tuple[str, str]] = [(receipt.bill_date.isoformat(), ""), ("", "")]
    rows += [(line.description, format_money(line.amount)) for line in receipt.lines]
    rows += [("", "")]
    if receipt.discount:
        rows.append(("Coupon", format_money(-receipt.discount)))
    if receipt.tax:
        rows.append(("Sales tax", format_money(receipt.tax)))
    rows += [("TOTAL", format_money(receipt.total)), ("", ""), ("Thank you", "")]
    picture = Image.new("RGB", (WIDTH, MARGIN * 3 + STEP * len(rows)), "#f6f3ea")
    pen, small, large = ImageDraw.Draw(picture), ImageFont.load_default(22), ImageFont.load_default(30)
    pen.text((MARGIN, MARGIN), receipt.shop, fill="#26221c", font=large)
    for number, (left, right) in enumerate(rows):
        top = MARGIN * 2 + STEP * number
        pen.text((MARGIN, top), left, fill="#26221c", font=small)
        pen.text((WIDTH - MARGIN, top), right, fill="#26221c", font=small, anchor="ra")
    sent = BytesIO()
    picture.save(sent, "JPEG", quality=80)
    return sent.getvalue()
