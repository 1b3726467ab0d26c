from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.models import AuditEntry, Closure, OpeningHours, PeriodLock, Provider, RoomUse, Use
from provider.selectors import home as selectors
from provider.services import home, locks
from provider.services.home import OpeningInput, RoomsExceedHome
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _writer(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY}


def test_it_refuses_a_room_that_no_longer_fits_into_the_home(provider: Provider) -> None:
    make.make_room(provider, area="1500.00")

    with pytest.raises(RoomsExceedHome) as refusal:
        home.add_room(**_writer(provider), name="Den", area=Decimal("101"), use=Use.REGULAR)

    assert refusal.value.field == "area"


def test_it_fills_the_home_to_the_last_square_foot(provider: Provider) -> None:
    make.make_room(provider, area="1500.00")

    home.add_room(**_writer(provider), name="Den", area=Decimal("100"), use=Use.REGULAR)

    assert selectors.room_list(provider, TODAY).rest == Decimal("0.00")


def test_it_refuses_a_home_smaller_than_its_rooms(provider: Provider) -> None:
    make.make_room(provider, area="900.00")

    with pytest.raises(RoomsExceedHome) as refusal:
        home.update_business(**_writer(provider), version=1, home_area=Decimal("899"))

    assert refusal.value.field == "home_area"


def test_it_uses_a_room_differently_from_a_day_on(provider: Provider) -> None:
    room = make.make_room(provider, use=Use.OCCASIONAL)

    home.change_room_use(**_writer(provider), room=room, use=Use.EXCLUSIVE, start=date(2026, 4, 1))

    card = selectors.room_list(provider, TODAY).rooms[0]
    assert card.use
    assert card.use.use == Use.OCCASIONAL
    assert [use.use for use in card.later] == [Use.EXCLUSIVE]
    assert RoomUse.objects.get(use=Use.OCCASIONAL).end == date(2026, 4, 1)


def test_it_refuses_another_use_of_a_room_under_a_closed_year(provider: Provider) -> None:
    room = make.make_room(provider)
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        home.change_room_use(**_writer(provider), room=room, use=Use.NONE, start=date(2024, 6, 1))


def test_it_refuses_another_area_of_a_room_under_a_closed_year(provider: Provider) -> None:
    room = make.make_room(provider)
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        home.change_room(**_writer(provider), room=room, version=1, name=room.name, area=Decimal("500"))


def test_it_opens_at_other_hours_from_a_day_on(provider: Provider) -> None:
    start = date(2026, 4, 6)

    home.set_opening_hours(**_writer(provider), start=start, opening=[OpeningInput(2, time(9), time(12))])

    assert len(selectors.opening_on(provider, start - timedelta(days=1))) == 5
    assert [(day.weekday, day.opens) for day in selectors.opening_on(provider, start)] == [(2, time(9))]


def test_it_replaces_hours_said_for_the_same_day(provider: Provider) -> None:
    for hour in (8, 9):
        home.set_opening_hours(
            **_writer(provider), start=date(2026, 4, 6), opening=[OpeningInput(0, time(hour), time(12))]
        )

    assert OpeningHours.objects.get(provider=provider, end=None).opens == time(9)


def test_it_refuses_a_business_that_never_opens(provider: Provider) -> None:
    with pytest.raises(DomainError):
        home.set_opening_hours(**_writer(provider), start=TODAY, opening=[])

    assert len(selectors.opening_on(provider, TODAY)) == 5


def test_it_moves_rooms_and_hours_with_the_first_day_of_business(provider: Provider) -> None:
    make.make_room(provider)

    home.update_business(**_writer(provider), version=1, opened_on=date(2023, 9, 1))

    assert RoomUse.objects.get().start == date(2023, 9, 1)
    assert len(selectors.opening_on(provider, date(2023, 9, 4))) == 5


def test_it_refuses_a_first_day_after_children_came(provider: Provider) -> None:
    make.make_attendance(make.make_child(make.make_household(provider)), date(2024, 2, 1))

    with pytest.raises(DomainError) as refusal:
        home.update_business(**_writer(provider), version=1, opened_on=date(2024, 3, 1))

    assert refusal.value.field == "opened_on"


def test_it_questions_a_stale_change_of_the_business(provider: Provider) -> None:
    home.update_business(**_writer(provider), version=1, phone="555 0100")

    with pytest.raises(StaleRow):
        home.update_business(**_writer(provider), version=1, phone="555 0199")


def test_it_refuses_closures_that_overlap(provider: Provider) -> None:
    given: dict[str, Any] = {"kind": "holiday", "paid": True, "reason": "Harvest"}
    home.add_closure(**_writer(provider), start=date(2026, 4, 1), end=date(2026, 4, 8), **given)

    with pytest.raises(DomainError) as refusal:
        home.add_closure(**_writer(provider), start=date(2026, 4, 7), end=date(2026, 4, 9), **given)

    assert refusal.value.field == "start"


def test_it_refuses_a_closure_that_touches_a_closed_year(provider: Provider) -> None:
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        home.add_closure(
            **_writer(provider),
            start=date(2025, 12, 29),
            end=date(2026, 1, 3),
            kind="time_off",
            paid=False,
            reason="Rest",
        )


def test_it_saves_a_closure_of_one_day_from_the_page(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    typed = {"start": "2026-04-01", "kind": "illness", "reason": "Ill", "paid": "no"}

    client.post(reverse("provider:closure_add", args=[provider.slug]), typed)

    closure = Closure.objects.get()
    assert (closure.end, closure.paid) == (date(2026, 4, 2), False)


def test_it_saves_the_business_from_the_page(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    form = client.get(reverse("provider:business", args=[provider.slug])).context["form"]
    typed = {name: value for name, value in form.initial.items() if value is not None}

    response = client.post(
        reverse("provider:business", args=[provider.slug]),
        {**typed, "region": "MN", "hourly_value": "24.50", "version": form.initial["version"]},
    )

    provider.refresh_from_db()
    assert response.status_code == 302
    assert provider.hourly_value == Decimal("24.50")


def test_it_shows_the_history_of_one_day(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    home.add_room(**_writer(provider), name="Sunroom", area=Decimal("100"), use=Use.REGULAR)
    address = reverse("provider:history", args=[provider.slug])

    everything, long_ago = client.get(address), client.get(address, {"day": "2020-01-01"})

    assert "Sunroom" in everything.content.decode()
    assert "Sunroom" not in long_ago.content.decode()


def test_it_asks_about_the_year_of_a_day_at_the_end_of_the_calendar(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))

    response = client.get(reverse("provider:history", args=[provider.slug]), {"day": "9999-12-31"})

    assert "Check the year of this date." in response.content.decode()


def test_it_closes_a_period_and_opens_it_again_with_a_reason(provider: Provider) -> None:
    lock = locks.lock_period(**_writer(provider), start=date(2025, 1, 1), end=date(2026, 1, 1), reason="Filed for 2025")

    lifted = locks.lift_lock(**_writer(provider), lock=lock, reason="A bill was missing")

    assert lifted.lifted_at
    assert AuditEntry.objects.filter(verb="lift", summary__contains="A bill was missing").exists()


def test_it_does_not_reopen_without_a_reason(provider: Provider) -> None:
    lock = make.lock_year(provider, 2025)

    with pytest.raises(DomainError) as refusal:
        locks.lift_lock(**_writer(provider), lock=lock, reason=" ")

    assert refusal.value.field == "reason"
    assert PeriodLock.objects.get().lifted_at is None


def test_it_does_not_close_a_period_twice_or_before_it_is_over(provider: Provider) -> None:
    make.lock_year(provider, 2025)

    for year in (2025, 2026):
        with pytest.raises(DomainError):
            locks.lock_period(**_writer(provider), start=date(year, 1, 1), end=date(year + 1, 1, 1), reason="Filed")
