"""What was done to a lot, as its page tells it."""

from decimal import Decimal

import pytest
from django.urls import reverse

from curriculum.selectors.history import history_of
from curriculum.services.materials import acquire_lot, correct_lot
from curriculum.services.placements import place_lot, put_away, void_put_away
from provider.models import Role
from tests.curriculum.conftest import TODAY
from tests.factories import make_lot, make_member

pytestmark = pytest.mark.django_db


@pytest.fixture
def corrected(writer, provider):
    """A second-hand lot whose cost was corrected from 12.00 to 15.00."""
    material = make_lot(provider).material
    given = {"on": TODAY, "how": "second_hand", "quantity": Decimal(4)}
    lot = acquire_lot(**writer, material=material, basis=Decimal("12.00"), **given)
    return correct_lot(**writer, lot=lot, version=lot.version, basis=Decimal("15.00"), **given)


def test_it_tells_what_was_corrected(corrected):
    correction, addition = history_of(corrected)

    assert [(str(what), before, after) for what, before, after in correction.changes] == [
        ("What it cost", "12.00", "15.00")
    ]
    assert correction.entry.summary == f"Corrected the lot {corrected}"
    assert (addition.entry.summary, addition.changes) == (f"Added the lot {corrected}", [])


def test_it_tells_where_the_lot_lay_and_which_count_was_undone(writer, run, lot):
    placement = place_lot(**writer, run=run, lot=lot, quantity=Decimal(2))
    row = put_away(**writer, placement=placement, on=run.start, returned=Decimal(1))
    void_put_away(**writer, row=row, version=row.version)

    assert [deed.entry.verb for deed in history_of(lot)] == ["undo", "put away", "place"]


def test_the_page_of_a_lot_shows_it_to_the_owner(signed_in, provider, corrected):
    page = signed_in.get(reverse("curriculum:lot", args=[provider.slug, corrected.public_id]))

    assert "What it cost: 12.00 → 15.00" in page.content.decode()


def test_a_helper_is_told_no_cost(client, provider, corrected):
    client.force_login(make_member(provider, Role.HELPER))

    page = client.get(reverse("curriculum:lot", args=[provider.slug, corrected.public_id]))

    assert "15.00" not in page.content.decode()
