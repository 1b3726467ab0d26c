from datetime import date
from decimal import Decimal

import pytest
from django.db import transaction

from curriculum.models import LearningCentre
from provider.desk import writing
from provider.errors import DomainError, ForeignRow, PeriodLocked, Refused, StaleRow
from provider.models import AuditEntry, Child, Household, Room
from tests.factories import lock_year, make_child, make_household, make_member, make_provider, make_room

pytestmark = pytest.mark.django_db


def test_a_row_pointing_at_another_providers_row_is_not_saved():
    provider, other = make_provider(), make_provider()
    child = make_child(make_household(provider))
    child.household = make_household(other)

    with pytest.raises(ForeignRow), writing(provider) as desk:
        desk.save(child)

    assert Child.objects.get(pk=child.pk).household.provider == provider


def test_another_providers_row_is_not_saved_at_this_desk():
    provider, other = make_provider(), make_provider()

    with pytest.raises(ForeignRow), writing(provider) as desk:
        desk.save(make_room(other))


def test_many_rows_are_checked_for_scope_too():
    provider, other = make_provider(), make_provider()

    with pytest.raises(ForeignRow), writing(provider) as desk:
        desk.create_many([LearningCentre(provider=other, name="Sand")])


def test_a_broken_rule_of_a_row_names_its_field():
    provider = make_provider()

    with pytest.raises(Refused) as refusal, writing(provider) as desk:
        desk.save(Room(provider=provider, name="", area=Decimal("10.00")))

    assert refusal.value.field == "name"


def test_a_name_used_twice_is_refused_in_words():
    provider = make_provider()
    make_household(provider, name="Family Alder")

    with pytest.raises(Refused, match="already exists"), writing(provider) as desk:
        desk.save(Household(provider=provider, name="Family Alder"))


def test_every_save_raises_the_version():
    provider = make_provider()
    room = make_room(provider)

    with writing(provider) as desk:
        desk.save(room)

    assert Room.objects.get(pk=room.pk).version == 2


def test_a_form_opened_before_somebody_elses_change_is_questioned():
    provider = make_provider()
    room = make_room(provider)
    with writing(provider) as desk:
        desk.save(room)

    with pytest.raises(StaleRow), writing(provider) as desk:
        desk.fresh(room, 1)


def test_a_submission_seen_before_gives_back_its_row():
    provider = make_provider()
    room = make_room(provider)
    with writing(provider) as desk:
        desk.done("key", room)

    with writing(provider) as desk:
        assert desk.once("key", Room) == room


def test_a_submission_key_of_another_provider_means_nothing_here():
    provider, other = make_provider(), make_provider()
    with writing(other) as desk:
        desk.done("key", make_room(other))

    with writing(provider) as desk:
        assert desk.once("key", Room) is None


def test_a_submission_key_of_another_form_is_refused():
    provider = make_provider()
    with writing(provider) as desk:
        desk.done("key", make_room(provider))

    with pytest.raises(DomainError, match="sent before"), writing(provider) as desk:
        desk.once("key", Household)


def test_a_day_in_a_closed_year_is_refused_with_the_reason():
    provider = make_provider()
    lock_year(provider, 2024)

    with pytest.raises(PeriodLocked, match="2024 is closed"), writing(provider) as desk:
        desk.require_open(date(2025, 1, 1), date(2024, 12, 31))


def test_the_day_after_a_closed_year_is_open():
    provider = make_provider()
    lock_year(provider, 2024)

    with writing(provider) as desk:
        desk.require_open(date(2025, 1, 1))


def test_the_trail_tells_who_changed_what():
    provider = make_provider()
    owner = make_member(provider)
    room = make_room(provider, name="Den")
    room.name = "Playroom"

    with writing(provider, owner) as desk:
        desk.save(room, verb="change")

    entry = AuditEntry.objects.get()
    assert (entry.actor, entry.object_label, entry.changes) == (owner, "Playroom", {"name": ["Den", "Playroom"]})


def test_the_trail_hides_what_is_private():
    provider = make_provider()
    household = make_household(provider, phone="555-0100")
    household.phone = "555-0199"

    with writing(provider) as desk:
        desk.save(household, verb="change")

    assert "555" not in str(AuditEntry.objects.get().changes)


def test_a_void_without_a_reason_is_refused():
    provider = make_provider()

    with pytest.raises(DomainError) as refusal, writing(provider) as desk:
        desk.void(make_room(provider), reason=" ")

    assert refusal.value.field == "reason"


@pytest.mark.django_db(transaction=True)
def test_a_service_inside_another_service_is_a_programming_error():
    provider = make_provider()

    with pytest.raises(RuntimeError, match="durable"), transaction.atomic(), writing(provider):
        pass
