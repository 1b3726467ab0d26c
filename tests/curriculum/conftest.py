"""A business of the day 2025-03-12, its owner signed in."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine

from curriculum.models import Placement
from tests.factories import make_centre, make_lot, make_member, make_provider, make_run

TODAY = date(2025, 3, 12)


@pytest.fixture(autouse=True)
def _noon():
    with time_machine.travel("2025-03-12 17:00Z", tick=False):
        yield


@pytest.fixture
def provider(db):
    return make_provider()


@pytest.fixture
def owner(provider):
    return make_member(provider)


@pytest.fixture
def writer(provider, owner):
    return {"provider": provider, "actor": owner, "today": TODAY}


@pytest.fixture
def run(provider):
    return make_run(provider)


@pytest.fixture
def centre(provider):
    return make_centre(provider, position=1)


@pytest.fixture
def lot(provider):
    """Twelve durable pieces, $48.00, four runs."""
    return make_lot(provider, quantity=Decimal(12))


@pytest.fixture
def place(provider, run, lot, centre):
    def make(quantity="10", **fields):
        given = {"run": run, "lot": lot, "centre": centre, "quantity": Decimal(quantity), **fields}
        return Placement.objects.create(provider=provider, **given)

    return make


@pytest.fixture
def signed_in(client, owner):
    client.force_login(owner)
    return client
