"""`manage.py load_demo`: the example businesses, told up to a day."""

from argparse import ArgumentTypeError
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from billing.demo.load import LoadedInPart, clear, first_day, is_loaded, latest_day, load
from provider.clock import now
from provider.errors import DomainError
from provider.services.demo_login import DEMO_USERNAMES, NEIGHBOUR_USERNAMES, reset_demo_password


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"a date is written like 2026-01-31, not {text!r}") from error


class Command(BaseCommand):
    help = "Load an invented business, its records up to a day, and two neighbours. The same day gives the same data."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--today", type=_day, help="last day of the records (default: today)")
        parser.add_argument("--again", action="store_true", help="take the example businesses away first")

    def handle(self, *args: Any, today: date | None, again: bool, verbosity: int, **options: Any) -> None:
        today = today or latest_day(now())
        if today < first_day():
            raise CommandError(f"The example begins on {first_day()}. Choose that day or a later one.")
        if again:
            clear()
        try:
            if is_loaded():
                self.stdout.write("The demo business is there already. `load_demo --again` loads it anew.")
                return
        except LoadedInPart as error:
            raise CommandError(
                "An earlier load was broken off. `load_demo --again` takes the example away and loads it anew; "
                "other businesses are left alone."
            ) from error
        try:
            load(today)
        except DomainError as error:
            raise CommandError(f"The example could not be loaded: {error.message}") from error
        password = reset_demo_password()
        if verbosity:
            self.stdout.write(f"Loaded the demo business up to {today}.")
            self.stdout.write(
                f"Logins {', '.join(DEMO_USERNAMES)}; of the neighbours {', '.join(NEIGHBOUR_USERNAMES)}."
            )
            self.stdout.write(f"Password {password}")
