"""The waiting list, from asking to the place."""

from datetime import date, time
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from provider.errors import DomainError, StaleRow
from provider.models import Child, Enrolment, Household, PatternDay, Provider, WaitingChild, WaitStatus
from provider.selectors.waiting import waiting_list
from provider.services import waiting as services
from provider.services.families import PatternInput
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
WEEK = [PatternInput(0, time(8), time(16))]


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _who(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY}


def _enrol(row: WaitingChild, **changes: Any) -> Child:
    given = {
        "household": None,
        "family_name": "Brook",
        "name": "Ada Brook",
        "birth_date": date(2025, 1, 1),
        "start": date(2026, 4, 1),
        "pattern": WEEK,
        **changes,
    }
    return services.enrol_waiting(**_who(row.provider), waiting=row, **given)


def test_it_lists_by_the_day_the_place_is_wanted_then_by_who_asked_first(provider: Provider) -> None:
    late = make.make_waiting(provider, wanted_start=date(2026, 9, 1))
    second = make.make_waiting(provider, wanted_start=date(2026, 4, 1), asked_on=date(2026, 2, 1))
    first = make.make_waiting(provider, wanted_start=date(2026, 4, 1), asked_on=date(2026, 1, 1))
    gone = make.make_waiting(provider, status=WaitStatus.WITHDRAWN)

    assert list(waiting_list(provider)) == [first, second, late]
    assert list(waiting_list(provider, closed=True)) == [gone]


def test_it_offers_withdraws_and_puts_back(provider: Provider) -> None:
    row = make.make_waiting(provider)

    statuses = [
        services.turn_waiting(**_who(provider), waiting=row, status=status).status
        for status in ("offered", "withdrawn", "waiting", "waiting")
    ]

    assert statuses == ["offered", "withdrawn", "waiting", "waiting"]


def test_it_makes_a_family_with_guardian_child_and_place(provider: Provider) -> None:
    row = make.make_waiting(provider)

    child = _enrol(row, guardian_name="Ana Brook", phone="555-0142")

    row.refresh_from_db()
    guardian = child.household.guardians.get()
    assert (child.household.name, guardian.name, guardian.phone) == ("Brook", "Ana Brook", "555-0142")
    assert Enrolment.objects.get(child=child).start == date(2026, 4, 1)
    assert (row.status, row.child) == (WaitStatus.ENROLLED, child)


def test_it_joins_a_sibling_s_family(provider: Provider) -> None:
    household = make.make_household(provider)
    guardian = make.make_guardian(household, name="Ana Brook")

    child = _enrol(make.make_waiting(provider), household=household, guardian_name="Ana Brook")

    assert child.household == household
    assert list(household.guardians.all()) == [guardian]


@pytest.mark.parametrize("name", ["", "Brook"])
def test_it_wants_a_family_with_a_name_of_its_own(provider: Provider, name: str) -> None:
    make.make_household(provider, name="Brook")

    with pytest.raises(DomainError) as refusal:
        _enrol(make.make_waiting(provider), family_name=name)

    assert refusal.value.field == "family_name"


def test_it_saves_nothing_when_the_place_is_refused(provider: Provider) -> None:
    row = make.make_waiting(provider)

    with pytest.raises(DomainError):
        _enrol(row, start=date(2024, 1, 1))

    row.refresh_from_db()
    assert row.status == WaitStatus.WAITING
    assert not Household.objects.exists()


def test_it_enrols_once(provider: Provider) -> None:
    row = make.make_waiting(provider)
    first = _enrol(row, submission_key="one")

    again = _enrol(row, submission_key="one")

    assert again == first
    with pytest.raises(DomainError):
        _enrol(row, family_name="Other", submission_key="two")


def test_who_is_enrolled_stays_so(provider: Provider) -> None:
    row = make.make_waiting(provider, status=WaitStatus.ENROLLED)

    with pytest.raises(DomainError):
        services.turn_waiting(**_who(provider), waiting=row, status="withdrawn")


@pytest.mark.parametrize(("changes", "field"), [({"leaves": time(8)}, "leaves"), ({"weekdays": ""}, "weekdays")])
def test_it_refuses_a_wish_without_days_or_hours(provider: Provider, changes: dict[str, Any], field: str) -> None:
    row = make.make_waiting(provider)

    with pytest.raises(DomainError) as refusal:
        services.change_waiting(**_who(provider), waiting=row, version=1, **changes)

    assert refusal.value.field == field


def test_it_questions_a_stale_change(provider: Provider) -> None:
    row = make.make_waiting(provider)
    services.change_waiting(**_who(provider), waiting=row, version=1, note="Saved first")

    with pytest.raises(StaleRow):
        services.change_waiting(**_who(provider), waiting=row, version=1, note="Too late")


def test_it_begins_the_place_with_what_was_asked_for(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    row = make.make_waiting(provider, contact_name="Ana Brook", weekdays="13", birth_date=date(2025, 1, 1))
    address = reverse("provider:waiting_enrol", args=[provider.slug, row.public_id])

    form = client.get(address).context["form"]
    values = {name: form[name].value() for name in form.fields}
    response = client.post(address, {name: value for name, value in values.items() if value})

    assert response.status_code == 302
    assert values["family_name"] == "Brook"
    assert sorted(PatternDay.objects.values_list("weekday", flat=True)) == [1, 3]
    assert Child.objects.get().name == row.child_name


def test_it_adds_and_changes_from_the_page(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    typed = {
        "child_name": "Ada Brook",
        "contact_name": "Ana Brook",
        "asked_on": "2026-03-01",
        "wanted_start": "2026-09-01",
        "weekdays": ["0", "4"],
        "arrives": "08:00",
        "leaves": "12:00",
    }
    client.post(reverse("provider:waiting_add", args=[provider.slug]), typed)
    row = WaitingChild.objects.get()

    client.post(
        reverse("provider:waiting_change", args=[provider.slug, row.public_id]),
        {**typed, "weekdays": ["1"], "version": "1"},
    )

    row.refresh_from_db()
    assert (row.weekdays, row.wanted_start) == ("1", date(2026, 9, 1))


def test_it_turns_a_row_with_one_button(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    row = make.make_waiting(provider)

    client.post(reverse("provider:waiting_offer", args=[provider.slug, row.public_id]))
    page = client.get(reverse("provider:waiting", args=[provider.slug])).content.decode()

    assert "offered a place" in page
    assert reverse("provider:waiting_offer", args=[provider.slug, row.public_id]) not in page
