"""Lists of invoices, payments, balances and places."""

from datetime import date
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _

from billing.models import Invoice, Payment, Series
from billing.selectors.agreements import Place
from billing.selectors.balances import FamilyBalance
from billing.selectors.invoices import STATES, open_amount, state
from provider.models import Provider
from provider.money import format_money
from provider.templatetags.frame import day, month

FIGURES = {"th": {"class": "num"}, "td": {"class": "num"}, "tf": {"class": "num"}}


class MoneyColumn(tables.Column):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"attrs": FIGURES, **kwargs})

    def render(self, value: Any) -> str:
        return format_money(value, "$")


class DayColumn(tables.Column):
    def render(self, value: Any) -> str:
        return day(value)


class BookTable(tables.Table):
    """A list that knows whose books and which day it shows."""

    def __init__(self, data: Any, *, provider: Provider, today: date, **kwargs: Any) -> None:
        self.provider = provider
        self.today = today
        super().__init__(data, **kwargs)

    def link(self, view: str, public_id: str, text: object) -> str:
        return format_html('<a href="{}">{}</a>', reverse(view, args=[self.provider.slug, public_id]), text)


def badge(state: str) -> str:
    label, kind = STATES[state]
    return format_html('<span class="badge {}">{}</span>', kind, label)


class InvoiceTable(BookTable):
    """Rows of `invoices_of`. `view` is the page that a number leads to."""

    view = "billing:invoice"
    number = tables.Column(verbose_name=_("Number"), empty_values=(), order_by=("year", "series", "number"))
    payer_name = tables.Column(verbose_name=_("Payer"))
    covers_start = tables.Column(verbose_name=_("For"))
    due_on = DayColumn(verbose_name=_("Due"))
    total = MoneyColumn(verbose_name=_("Total"))
    open = MoneyColumn(verbose_name=_("To pay"), empty_values=(), orderable=False)
    state = tables.Column(verbose_name=_("State"), empty_values=(), orderable=False)

    def render_number(self, record: Invoice) -> str:
        return self.link(self.view, record.public_id, record)

    def render_covers_start(self, value: date) -> str:
        return month(value)

    def render_due_on(self, record: Invoice, value: date) -> str:
        return "–" if record.series == Series.CREDIT else day(value)

    def render_open(self, record: Invoice) -> str:
        return "–" if record.series == Series.CREDIT else format_money(open_amount(record), "$")

    def render_state(self, record: Invoice) -> str:
        return badge(state(record, self.today))


class PaperTable(InvoiceTable):
    """The same for a family."""

    view = "billing:family_paper"


class PaymentTable(BookTable):
    on = tables.Column(verbose_name=_("Received"))
    household = tables.Column(verbose_name=_("Family"), order_by=("household__name",))
    method = tables.Column(verbose_name=_("How"))
    note = tables.Column(verbose_name=_("Note"), orderable=False, default="")
    amount = MoneyColumn(verbose_name=_("Amount"))

    class Meta:
        row_attrs = {"class": lambda record: "void" if record.voided_at else ""}

    def render_on(self, record: Payment) -> str:
        shown = self.link("billing:payment", record.public_id, day(record.on))
        mark = format_html(' <span class="badge caution">{}</span>', _("Voided")) if record.voided_at else ""
        return format_html("{}{}", shown, mark)


class BalanceTable(BookTable):
    name = tables.Column(verbose_name=_("Family"))
    invoiced = MoneyColumn(verbose_name=_("Invoiced"))
    received = MoneyColumn(verbose_name=_("Received"))
    oldest_due = DayColumn(verbose_name=_("Oldest due"), default="")
    overdue = MoneyColumn(verbose_name=_("Overdue"))
    balance = MoneyColumn(verbose_name=_("Balance"))

    def render_name(self, record: FamilyBalance) -> str:
        return self.link("billing:statement", record.household.public_id, record.name)

    def render_balance(self, record: FamilyBalance) -> str:
        if record.balance < 0:
            return str(_("%(amount)s credit") % {"amount": format_money(-record.balance, "$")})
        return format_money(record.balance, "$")


class PlaceTable(BookTable):
    child = tables.Column(verbose_name=_("Child"), order_by=("child__name",))
    household = tables.Column(verbose_name=_("Family"), order_by=("household__name",))
    rate = tables.Column(verbose_name=_("Rate"), empty_values=(), orderable=False, attrs=FIGURES)
    payers = tables.Column(verbose_name=_("Paid by"), empty_values=(), orderable=False)
    since = tables.Column(verbose_name=_("From"), empty_values=(), orderable=False)

    def render_child(self, record: Place) -> str:
        return self.link("billing:place", record.enrolment.public_id, record.child)

    def render_rate(self, record: Place) -> str:
        if record.agreement is None:
            return format_html('<span class="badge problem">{}</span>', _("No agreement"))
        return f"{format_money(record.agreement.rate, '$')} {record.agreement.get_period_display()}"

    def render_payers(self, record: Place) -> str:
        if record.agreement is not None and record.agreement.rate and not record.payers:
            return format_html('<span class="badge problem">{}</span>', _("Nobody"))
        return record.payers

    def render_since(self, record: Place) -> str:
        return day(record.agreement.start) if record.agreement else ""
