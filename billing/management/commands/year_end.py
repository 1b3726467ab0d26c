"""`manage.py year_end 2025 --provider SLUG --output FILE.xlsx`: the year-end workbook without a browser."""

import os
import tempfile
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from billing.selectors.year import ran_in, year_result
from billing.workbook import build_workbook
from provider.clock import today
from provider.errors import DomainError
from provider.models import Provider
from provider.money import format_money


class Command(BaseCommand):
    help = "Write the year-end workbook of one business."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("year", type=int)
        parser.add_argument("--provider", required=True, metavar="SLUG")
        parser.add_argument("--output", required=True, type=Path, metavar="FILE.xlsx")
        parser.add_argument("--today", type=date.fromisoformat, metavar="DATE", help="as if it were this day")

    def handle(self, *args: Any, **options: Any) -> None:
        provider = Provider.objects.filter(slug=options["provider"]).first()
        if provider is None:
            raise CommandError(f"There is no business {options['provider']}.")
        year, day = options["year"], options["today"] or today(provider)
        if not ran_in(provider, year, day):
            raise CommandError(f"{provider.name} did not run in {year}.")
        result = year_result(provider, year, day)
        try:
            content = build_workbook(result)
            write_whole(options["output"], content)
        except DomainError as error:
            raise CommandError(error.message) from error
        except OSError as error:
            raise CommandError(f"{options['output']} cannot be written: {error.strerror}") from error
        self.stdout.write(f"Wrote {options['output']} ({len(content):,} bytes): {provider.name}, {year}")
        for words, amount in (
            ("Income earned", result.earned_total),
            ("Income received", result.received_total),
            ("Deductible expenses so far", result.deductible),
            ("Not yet computed, as recorded", result.not_computed_total),
            ("Theme costs", result.theme_total),
        ):
            self.stdout.write(f"  {words + ':':32}{format_money(amount):>14}")


def write_whole(path: Path, content: bytes) -> None:
    """Write the file in one step, so that nobody finds half of it. Raises OSError."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).replace(path)
    except OSError:
        Path(name).unlink()
        raise
