"""The cast of the tuition tests: one invented business on an invented street, in November 2026."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from threading import Barrier, Thread
from typing import Any

from django.db import connection

from billing.models import Agreement, Invoice
from billing.services.invoices import Issued, issue_month
from provider.models import Guardian, Provider
from tests.factories import make_agreement, make_child, make_enrolment, make_guardian, make_household, make_provider

TODAY = date(2026, 10, 28)


def place(
    provider: Provider, rate: str = "840.00", payers: dict[Guardian, str] | None = None, **terms: Any
) -> Agreement:
    """A child of a new family, weekdays since 2024, with an agreement."""
    household = next(iter(payers)).household if payers else make_household(provider)
    return make_agreement(make_enrolment(make_child(household)), rate, payers=payers, **terms)


def two_payers(shares: tuple[str, str] = ("0.6000", "0.4000")) -> tuple[Provider, dict[Guardian, str]]:
    provider = make_provider()
    household = make_household(provider)
    return provider, {make_guardian(household): share for share in shares}


def issue(provider: Provider, month: int = 11, **options: Any) -> Issued:
    return issue_month(**{"provider": provider, "actor": None, "today": TODAY, "year": 2026, "month": month, **options})


def issue_one(provider: Provider, rate: str = "840.00", **terms: Any) -> Invoice:
    place(provider, rate, **terms)
    return issue(provider).invoices[-1]


def amounts(rows: Any) -> list[Decimal]:
    return [row.amount for row in rows]


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Run the acts in threads that start together, each with its own connection; results or exceptions, in order."""
    barrier = Barrier(len(acts))
    results: list[Any] = [None] * len(acts)

    def run(index: int, act: Callable[[], Any]) -> None:
        try:
            connection.ensure_connection()
            barrier.wait(timeout=20)
            results[index] = act()
        except Exception as error:
            results[index] = error
        finally:
            connection.close()

    threads = [Thread(target=run, args=(index, act)) for index, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return results
