"""Agreements, invoices, payments, balances; and what a family may see of them."""

from datetime import date

from django.urls import URLPattern, path, register_converter

from billing.views import agreements, invoices, money, papers, payments


class MonthConverter:
    """`2026-11` as the first day of that month."""

    regex = r"20\d\d-(?:0[1-9]|1[0-2])"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(f"{value}-01")

    def to_url(self, value: date) -> str:
        return f"{value:%Y-%m}"


register_converter(MonthConverter, "invoice_month")

urlpatterns: list[URLPattern] = [
    path("<slug:slug>/money/", money.overview, name="money"),
    path("<slug:slug>/money/balances/", money.balances, name="balances"),
    path("<slug:slug>/money/balances/<str:public_id>/", money.account, name="statement"),
    path("<slug:slug>/money/invoices/", invoices.all_invoices, name="invoices"),
    path("<slug:slug>/money/invoices/<invoice_month:first>/", invoices.month, name="invoice_month"),
    path("<slug:slug>/money/invoices/<invoice_month:first>/pdf/", invoices.month_pdf, name="invoice_month_pdf"),
    path("<slug:slug>/money/invoices/<str:public_id>/", invoices.invoice, name="invoice"),
    path("<slug:slug>/money/invoices/<str:public_id>/pdf/", invoices.invoice_pdf, name="invoice_pdf"),
    path("<slug:slug>/money/invoices/<str:public_id>/credit/", invoices.credit, name="credit_note"),
    path("<slug:slug>/money/payments/", payments.all_payments, name="payments"),
    path("<slug:slug>/money/payments/new/", payments.choose_family, name="payment_new"),
    path("<slug:slug>/money/payments/new/<str:public_id>/", payments.record, name="payment_record"),
    path("<slug:slug>/money/payments/<str:public_id>/", payments.payment, name="payment"),
    path("<slug:slug>/money/payments/<str:public_id>/void/", payments.void, name="payment_void"),
    path("<slug:slug>/money/agreements/", agreements.all_places, name="agreements"),
    path("<slug:slug>/money/agreements/<str:public_id>/", agreements.place, name="place"),
    path("<slug:slug>/money/agreements/<str:public_id>/new/", agreements.new, name="agreement_new"),
    path("<slug:slug>/money/agreements/<str:public_id>/change/", agreements.change, name="agreement"),
    path("<slug:slug>/papers/", papers.papers, name="family_papers"),
    path("<slug:slug>/papers/<str:public_id>/", papers.paper, name="family_paper"),
    path("<slug:slug>/papers/<str:public_id>/pdf/", papers.paper_pdf, name="family_paper_pdf"),
]
