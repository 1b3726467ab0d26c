"""`manage.py issue_invoices 2026-11 --provider SLUG`: the month's invoices from the shell, by the page's service."""

from argparse import ArgumentTypeError
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from billing.documents.invoices import invoices_pdf
from billing.selectors.invoices import invoice_papers, invoices_of
from billing.selectors.month import month_preview
from billing.services.invoices import issue_month
from provider.clock import today
from provider.errors import DomainError
from provider.models import Provider
from provider.money import format_money


def a_month(text: str) -> date:
    try:
        return date.fromisoformat(f"{text}-01")
    except ValueError as error:
        raise ArgumentTypeError(f"“{text}” is not a month like 2026-11.") from error


def a_day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"“{text}” is not a day like 2026-10-28.") from error


class Command(BaseCommand):
    help = "Issue the invoices of a month that are not issued yet, all or none. Running it again changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("month", type=a_month, help="the month to invoice, like 2026-11")
        parser.add_argument("--provider", required=True, metavar="SLUG", help="whose books")
        parser.add_argument("--today", type=a_day, metavar="DATE", help="date of issue, if not today")
        parser.add_argument(
            "--issue-the-rest", action="store_true", help="leave out children with problems instead of issuing nothing"
        )
        parser.add_argument("--pdf", type=Path, metavar="FILE", help="write all papers of the month to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        provider = Provider.objects.filter(slug=options["provider"]).first()
        if provider is None:
            raise CommandError(f"There is no business “{options['provider']}”.")
        month: date = options["month"]
        day: date = options["today"] or today(provider)
        try:
            issued = issue_month(
                provider=provider,
                actor=None,
                today=day,
                year=month.year,
                month=month.month,
                issue_the_rest=options["issue_the_rest"],
            )
        except DomainError as error:
            raise CommandError(self._refusal(provider, month, error)) from error
        for invoice in issued.invoices:
            self.stdout.write(f"{invoice}  {format_money(invoice.total, '$'):>12}  {invoice.payer_name}")
        for problem in issued.problems:
            self.stderr.write(f"Left out: {problem.text}")
        if issued.invoices:
            total = format_money(issued.total, "$")
            self.stdout.write(f"Issued {len(issued.invoices)} for {month:%Y-%m}, {total} together.")
        else:
            self.stdout.write(f"Nothing was left to issue for {month:%Y-%m}.")
        if options["pdf"]:
            self._write_pdf(provider, month, day, options["pdf"])

    @staticmethod
    def _refusal(provider: Provider, month: date, error: DomainError) -> str:
        problems = month_preview(provider, month.year, month.month).problems
        return "\n".join([error.message, *(f"- {problem.text}" for problem in problems)])

    def _write_pdf(self, provider: Provider, month: date, day: date, file: Path) -> None:
        rows = invoices_of(provider).filter(covers_start=month).order_by("-series", "year", "number")
        papers = invoice_papers(rows, day)
        if not papers:
            raise CommandError(f"No invoice was issued for {month:%Y-%m}, so there is nothing to print.")
        try:
            file.write_bytes(invoices_pdf(papers, f"Invoices for {month:%Y-%m}"))
        except OSError as error:
            raise CommandError(f"The PDF could not be written: {error}") from error
        self.stdout.write(f"Wrote {file}.")
