"""The choices for each tax year, invoices on the first of each month, and how each family pays them."""

from datetime import timedelta
from decimal import Decimal
from functools import partial

from billing.demo.books import BILL, FIRST, PAY, Books, Data
from billing.models import Invoice
from billing.services.invoices import credit_note, issue_month
from billing.services.payments import record_payment
from billing.services.years import choose_for_year
from provider.money import split


def plan_tuition(books: Books) -> None:
    for month in books.months:
        books.at(month.start, BILL, partial(_issue, books))
        if month.start.month == 1:
            books.at(month.start, FIRST, partial(_choose, books))
    for given in books.data.get("credits", ()):
        books.at(given["on"], BILL, partial(_take_back, books, given))


def _choose(books: Books) -> None:
    tax = books.data["tax"]
    share = Decimal(tax["provisional_home_share"])
    choose_for_year(**books.writer, year=books.day.year, basis=tax["basis"], provisional_home_share=share)


def _issue(books: Books) -> None:
    families = {family["name"]: family for family in books.data["families"]}
    issued = issue_month(**books.writer, year=books.day.year, month=books.day.month)
    for invoice in issued.invoices:
        if invoice.total:
            _plan_payments(books, families[invoice.household.name], invoice)


def _take_back(books: Books, given: Data) -> None:
    household = books.households[given["family"]]
    invoice = Invoice.objects.get(household=household, covers_start=books.day.replace(day=1))
    credit_note(**books.writer, invoice=invoice, reason=given["reason"])
    _issue(books)


def _plan_payments(books: Books, family: Data, invoice: Invoice) -> None:
    dice = books.dice(f"payment of {invoice.payer_name}", invoice.issued_on)
    if family["pays"] == "prompt":
        parts = [(dice.randint(-3, 0), invoice.total)]
    elif family["pays"] == "late":
        parts = [(dice.randint(21, 33), invoice.total)]
    else:
        half, rest = split(invoice.total, [1, 1])
        parts = [(dice.randint(0, 2), half), (dice.randint(38, 52), rest)]
    for after, amount in parts:
        day = max(invoice.issued_on, invoice.due_on + timedelta(days=after))
        books.at(day, PAY, partial(_pay, books, family, invoice, amount))


def _pay(books: Books, family: Data, invoice: Invoice, amount: Decimal) -> None:
    if Invoice.objects.filter(corrects=invoice).exists():
        return
    record_payment(
        **books.writer,
        household=invoice.household,
        guardian=invoice.guardian,
        invoice=invoice,
        on=books.day,
        amount=amount,
        method=family["method"],
    )
