from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from provider.middleware import LOCK_COOKIE
from provider.models import Attendance, AuditEntry, Child, DoorDevice, DoorPin, Guardian, PinTry, Provider, Role
from provider.selectors.door import children_at_door
from provider.services import attendance, door
from provider.services.door import NotYourChild, WaitFirst, WrongPin
from provider.views.door import DEVICE_COOKIE, GUARDIAN_COOKIE
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)  # a Monday
NOW = datetime(2026, 3, 16, 13, 5, tzinfo=UTC)  # 8:05 in Chicago
SECOND = timedelta(seconds=1)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def guardian(provider: Provider) -> Guardian:
    return make.make_guardian(make.make_household(provider), name="Mara Lind")


@pytest.fixture
def child(guardian: Guardian) -> Child:
    child = make.make_child(guardian.household, name="Ada Lind")
    make.make_enrolment(child)
    return child


@pytest.fixture
def device(provider: Provider) -> DoorDevice:
    row = door.register_device(provider=provider, actor=None, today=TODAY, name="Hall")
    return door.open_device(device=row, token="secret")


@pytest.fixture
def tablet(device: DoorDevice) -> Client:
    client = Client()
    client.cookies[DEVICE_COOKIE] = "secret"
    return client


def _pin(guardian: Guardian) -> str:
    return door.renew_pin(provider=guardian.provider, actor=None, today=TODAY, guardian=guardian).pin


def _sign(device: DoorDevice, guardian: Guardian, child: Child, **changes: Any) -> door.Signature:
    given = {"leaving": False, "today": TODAY, "now": NOW, **changes}
    return door.sign_at_door(device=device, guardian=guardian, child=child, **given)


def _page(provider: Provider) -> str:
    return reverse("provider:door", args=[provider.slug])


def _button(child: Child) -> str:
    return reverse("provider:door_sign", args=[child.provider.slug, child.public_id])


def _let_in(tablet: Client, guardian: Guardian) -> None:
    response = tablet.post(_page(guardian.provider), {"pin": _pin(guardian)})
    assert response.status_code == 302


# --- PINs ------------------------------------------------------------------------------------------------------------


def test_it_finds_the_guardian_by_the_pin(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)

    assert door.enter_pin(device=device, pin=pin, now=NOW).guardian == guardian


def test_it_keeps_neither_pin_nor_token_in_clear(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)

    stored = [*DoorPin.objects.values_list("pin_hash", flat=True), device.token_hash]
    told = [*AuditEntry.objects.values_list("summary", "changes")]

    assert pin not in str(stored)
    assert "secret" not in str(stored)
    assert pin not in str(told)


def test_it_never_gives_one_pin_to_two_guardians(guardian: Guardian, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = iter([482_913, 482_913, 305_127])
    monkeypatch.setattr(door.secrets, "randbelow", lambda _n: next(drawn))
    other = make.make_guardian(guardian.household)

    assert [_pin(guardian), _pin(other)] == ["482913", "305127"]


def test_it_makes_pins_of_six_digits_with_three_different_ones(
    guardian: Guardian, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = iter([0, 111_112, 1_234])
    monkeypatch.setattr(door.secrets, "randbelow", lambda _n: next(drawn))

    assert _pin(guardian) == "001234"


def test_it_forgets_the_earlier_pin(device: DoorDevice, guardian: Guardian) -> None:
    earlier = _pin(guardian)
    _pin(guardian)

    with pytest.raises(WrongPin):
        door.enter_pin(device=device, pin=earlier, now=NOW)


def test_it_knows_no_pin_of_another_business(device: DoorDevice) -> None:
    foreign = _pin(make.make_guardian(make.make_household(make.make_provider())))

    with pytest.raises(WrongPin):
        door.enter_pin(device=device, pin=foreign, now=NOW)


def test_it_lets_nobody_in_after_the_pin_was_removed(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)
    door.remove_pin(provider=guardian.provider, actor=None, today=TODAY, guardian=guardian)

    with pytest.raises(WrongPin):
        door.enter_pin(device=device, pin=pin, now=NOW)


def test_it_makes_a_tablet_wait_after_five_wrong_pins(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)
    for n in range(5):
        with pytest.raises(WrongPin):
            door.enter_pin(device=device, pin="000000", now=NOW + n * SECOND)

    with pytest.raises(WaitFirst) as refusal:
        door.enter_pin(device=device, pin=pin, now=NOW + 5 * SECOND)

    assert "Wait 5 minutes" in refusal.value.message


def test_it_ends_the_wait_five_minutes_after_the_first_of_the_tries(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)
    for n in range(5):
        with pytest.raises(WrongPin):
            door.enter_pin(device=device, pin="000000", now=NOW + n * SECOND)
    with pytest.raises(WaitFirst):
        door.enter_pin(device=device, pin=pin, now=NOW + timedelta(minutes=4, seconds=59))

    found = door.enter_pin(device=device, pin=pin, now=NOW + timedelta(minutes=5))

    assert found.guardian == guardian


def test_it_lets_another_tablet_work_while_one_waits(device: DoorDevice, guardian: Guardian) -> None:
    pin = _pin(guardian)
    other = door.register_device(provider=guardian.provider, actor=None, today=TODAY, name="Garden")
    for _n in range(5):
        with pytest.raises(WrongPin):
            door.enter_pin(device=device, pin="000000", now=NOW)

    assert door.enter_pin(device=other, pin=pin, now=NOW).guardian == guardian


def test_it_throws_old_tries_away(device: DoorDevice) -> None:
    for moment in (NOW - timedelta(days=2), NOW):
        with pytest.raises(WrongPin):
            door.enter_pin(device=device, pin="000000", now=moment)

    assert PinTry.objects.count() == 1


# --- Signatures ------------------------------------------------------------------------------------------------------


def test_it_keeps_the_guardians_name_as_signature(device: DoorDevice, guardian: Guardian, child: Child) -> None:
    _sign(device, guardian, child)

    row = _sign(device, guardian, child, leaving=True, now=NOW + timedelta(hours=8)).record

    assert (row.brought_by, row.collected_by, row.signed_at_door) == ("Mara Lind", "Mara Lind", True)


def test_it_writes_who_stood_at_which_tablet_into_the_trail(
    device: DoorDevice, guardian: Guardian, child: Child
) -> None:
    _sign(device, guardian, child)

    assert AuditEntry.objects.get(verb="sign in").actor_label == "Mara Lind at the door (Hall)"


def test_it_signs_once_for_the_same_form_sent_twice(device: DoorDevice, guardian: Guardian, child: Child) -> None:
    first = _sign(device, guardian, child, submission_key="form")

    again = _sign(device, guardian, child, submission_key="form", now=NOW + timedelta(minutes=3))

    assert again.record == first.record
    assert Attendance.objects.get().arrived_at == NOW


def test_it_leaves_a_child_who_is_here_as_it_is(device: DoorDevice, guardian: Guardian, child: Child) -> None:
    _sign(device, guardian, child, submission_key="first form")

    again = _sign(device, guardian, child, submission_key="second form", now=NOW + timedelta(minutes=3))

    assert again.already
    assert Attendance.objects.get().arrived_at == NOW


def test_it_leaves_a_child_who_has_gone_as_it_is(device: DoorDevice, guardian: Guardian, child: Child) -> None:
    _sign(device, guardian, child)
    left = _sign(device, guardian, child, leaving=True, now=NOW + timedelta(hours=8)).record

    again = _sign(device, guardian, child, leaving=True, now=NOW + timedelta(hours=9))

    assert again.already
    assert again.record.left_at == left.left_at


def test_it_refuses_a_child_of_another_household(device: DoorDevice, guardian: Guardian) -> None:
    other = make.make_child(make.make_household(guardian.provider))

    with pytest.raises(NotYourChild):
        _sign(device, guardian, other)

    assert not Attendance.objects.exists()


def test_it_makes_every_tablet_wait_for_a_child_tried_five_times(device: DoorDevice, guardian: Guardian) -> None:
    household = make.make_household(guardian.provider)
    child, parent = make.make_child(household), make.make_guardian(household)
    for _n in range(5):
        with pytest.raises(NotYourChild):
            _sign(device, guardian, child)
    other = door.register_device(provider=guardian.provider, actor=None, today=TODAY, name="Garden")

    with pytest.raises(WaitFirst):
        _sign(other, parent, child)


def test_it_tells_how_late_a_child_is(guardian: Guardian, child: Child) -> None:
    late = NOW + timedelta(minutes=20)

    assert [each.late for each in children_at_door(guardian, TODAY, late)] == [25]


@pytest.mark.parametrize(
    ("day", "arrives", "leaves", "hours"),
    [
        # Clocks go forward at 2:00 on 8 March 2026 and back at 2:00 on 1 November 2026 in Chicago.
        (date(2026, 3, 7), datetime(2026, 3, 8, 4, 0, tzinfo=UTC), datetime(2026, 3, 8, 9, 0, tzinfo=UTC), 5),
        (date(2026, 10, 31), datetime(2026, 11, 1, 4, 0, tzinfo=UTC), datetime(2026, 11, 1, 9, 0, tzinfo=UTC), 5),
        (date(2028, 2, 29), datetime(2028, 2, 29, 23, 0, tzinfo=UTC), datetime(2028, 3, 1, 7, 0, tzinfo=UTC), 8),
    ],
)
def test_it_keeps_the_day_of_arrival_and_true_hours_over_clock_changes_and_midnight(
    device: DoorDevice, guardian: Guardian, child: Child, day: date, arrives: datetime, leaves: datetime, hours: int
) -> None:
    _sign(device, guardian, child, today=day, now=arrives)

    row = _sign(device, guardian, child, leaving=True, today=day + timedelta(days=1), now=leaves).record

    assert row.day == day
    assert row.arrived_at
    assert row.left_at
    assert row.left_at - row.arrived_at == timedelta(hours=hours)


# --- The tablet ------------------------------------------------------------------------------------------------------


def _link(client: Client, provider: Provider, device: DoorDevice) -> str:
    client.force_login(make.make_member(provider))
    page = client.get(reverse("provider:door_device", args=[provider.slug, device.public_id]))
    link: str = page.context["link"]
    return link.removeprefix("http://testserver")


@pytest.fixture
def waiting(provider: Provider) -> DoorDevice:
    return door.register_device(provider=provider, actor=None, today=TODAY, name="Hall")


def test_it_makes_the_browser_that_opens_the_link_the_tablet(
    client: Client, provider: Provider, waiting: DoorDevice
) -> None:
    tablet = Client()

    response = tablet.post(_link(client, provider, waiting), follow=True)

    assert response.redirect_chain[-1][0] == _page(provider)
    cookie = tablet.cookies[DEVICE_COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", _page(provider))


def test_it_marks_the_tablets_cookies_secure_over_https(
    client: Client, provider: Provider, waiting: DoorDevice
) -> None:
    tablet = Client()

    tablet.post(_link(client, provider, waiting), secure=True)

    assert tablet.cookies[DEVICE_COOKIE]["secure"]
    assert tablet.cookies[LOCK_COOKIE]["secure"]


def test_it_does_not_use_the_link_up_by_a_look(client: Client, provider: Provider, waiting: DoorDevice) -> None:
    link = _link(client, provider, waiting)

    statuses = [Client().get(link).status_code, Client().post(link).status_code]

    assert statuses == [200, 302]


def test_it_opens_the_link_once(client: Client, provider: Provider, waiting: DoorDevice) -> None:
    link = _link(client, provider, waiting)
    Client().post(link)

    assert Client().post(link).status_code == 404


def test_it_knows_no_link_of_yesterday(
    client: Client, provider: Provider, waiting: DoorDevice, clock: time_machine.Traveller
) -> None:
    link = _link(client, provider, waiting)

    clock.shift(timedelta(minutes=31))

    assert Client().get(link).status_code == 404


def test_it_signs_out_whoever_opens_the_link(client: Client, provider: Provider, waiting: DoorDevice) -> None:
    client.post(_link(client, provider, waiting))

    assert "_auth_user_id" not in client.session


def test_it_leads_the_tablet_back_to_the_door_from_everywhere(
    client: Client, provider: Provider, waiting: DoorDevice
) -> None:
    tablet = Client()
    tablet.post(_link(client, provider, waiting))

    places = [tablet.get(path) for path in ("/", reverse("provider:sign_in"), f"/{provider.slug}/today/")]

    assert {place.headers["Location"] for place in places} == {_page(provider)}


def test_it_stays_locked_when_the_door_of_another_business_is_tried(
    client: Client, provider: Provider, waiting: DoorDevice
) -> None:
    tablet = Client()
    tablet.post(_link(client, provider, waiting))

    places = [tablet.get(path) for path in ("/door/elsewhere/", reverse("provider:sign_in"))]

    assert {place.headers["Location"] for place in places} == {_page(provider)}


def test_it_unlocks_a_tablet_that_was_taken_away(client: Client, provider: Provider, waiting: DoorDevice) -> None:
    tablet = Client()
    tablet.post(_link(client, provider, waiting))
    client.post(
        reverse("provider:door_device_revoke", args=[provider.slug, waiting.public_id]), {"submission_key": "form"}
    )

    statuses = [tablet.get(_page(provider)).status_code, tablet.get(reverse("provider:sign_in")).status_code]

    assert statuses == [403, 200]


def test_it_locks_no_browser_with_a_cookie_of_nonsense(client: Client, provider: Provider) -> None:
    make.make_member(provider)
    client.cookies[LOCK_COOKIE] = "//elsewhere.example"

    assert client.get(reverse("provider:sign_in")).status_code == 200


def test_it_remembers_when_the_tablet_was_last_used(
    tablet: Client, provider: Provider, device: DoorDevice, clock: time_machine.Traveller
) -> None:
    tablet.get(_page(provider))

    device.refresh_from_db()
    assert device.last_seen_at == NOW


# --- The page --------------------------------------------------------------------------------------------------------


def test_it_shows_no_child_before_the_pin(tablet: Client, provider: Provider, child: Child) -> None:
    page = tablet.get(_page(provider)).content.decode()

    assert str(child) not in page


def test_it_shows_a_guardian_the_own_children_alone(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    other = make.make_child(make.make_household(guardian.provider), name="Someone Else")
    make.make_enrolment(other)

    _let_in(tablet, guardian)
    page = tablet.get(reverse("provider:door_children", args=[guardian.provider.slug])).content.decode()

    assert str(child) in page
    assert str(other) not in page


def test_it_signs_in_and_returns_to_the_pin_by_itself(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)

    page = tablet.post(_button(child), {"act": "in", "submission_key": "form"}).content.decode()

    assert Attendance.objects.get().arrived_at == NOW
    assert f"url={_page(guardian.provider)}" in page
    assert tablet.cookies[GUARDIAN_COOKIE].value == ""


def test_it_answers_the_same_post_twice_with_one_signature(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    ticket = tablet.cookies[GUARDIAN_COOKIE].value
    tablet.post(_button(child), {"act": "in", "submission_key": "form"})
    tablet.cookies[GUARDIAN_COOKIE] = ticket  # the first answer never arrived

    again = tablet.post(_button(child), {"act": "in", "submission_key": "form"})

    assert again.status_code == 200
    assert Attendance.objects.count() == 1


def test_it_keeps_brothers_and_sisters_on_the_page(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    sister = make.make_child(guardian.household)
    make.make_enrolment(sister)
    _let_in(tablet, guardian)

    for each in (child, sister):
        tablet.post(_button(each), {"act": "in", "submission_key": each.public_id})

    assert Attendance.objects.count() == 2


def test_it_keeps_the_reason_of_a_late_arrival(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)

    tablet.post(_button(child), {"act": "in", "submission_key": "form", "note": "dentist"})

    assert Attendance.objects.get().note == "dentist"


def test_it_forgets_the_guardian_after_two_minutes(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    clock.shift(timedelta(minutes=2, seconds=1))

    response = tablet.post(_button(child), {"act": "in", "submission_key": "form"})

    assert response.headers["Location"] == _page(guardian.provider)
    assert not Attendance.objects.exists()


def test_it_forgets_the_guardian_when_the_pin_is_changed(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    _pin(guardian)

    response = tablet.get(reverse("provider:door_children", args=[guardian.provider.slug]))

    assert response.status_code == 302


def test_it_accepts_no_guardian_of_another_tablet(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    row = door.register_device(provider=guardian.provider, actor=None, today=TODAY, name="Garden")
    door.open_device(device=row, token="other secret")
    tablet.cookies[DEVICE_COOKIE] = "other secret"

    response = tablet.get(reverse("provider:door_children", args=[guardian.provider.slug]))

    assert response.status_code == 302


def test_it_hides_children_of_other_households_and_businesses(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    other = make.make_child(make.make_household(guardian.provider))
    foreign = make.make_child(make.make_household(make.make_provider()))
    address = _button(child)

    statuses = [
        tablet.post(address.replace(child.public_id, each.public_id), {"act": "in"}).status_code
        for each in (other, foreign)
    ]

    assert statuses == [404, 404]


def test_it_says_to_wait_on_the_page(tablet: Client, provider: Provider, clock: time_machine.Traveller) -> None:
    for _n in range(5):
        tablet.post(_page(provider), {"pin": "000000"})

    page = tablet.post(_page(provider), {"pin": "000000"}).content.decode()

    assert "Too many wrong tries" in page


def test_it_makes_no_session_at_the_door(
    tablet: Client, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    _let_in(tablet, guardian)
    tablet.post(_button(child), {"act": "in", "submission_key": "form"})

    assert "sessionid" not in tablet.cookies


def test_it_lets_the_owner_undo_a_signature_given_at_the_door(
    client: Client, device: DoorDevice, guardian: Guardian, child: Child, clock: time_machine.Traveller
) -> None:
    row = _sign(device, guardian, child).record
    client.force_login(make.make_member(guardian.provider, Role.HELPER))

    client.post(
        reverse("provider:undo_attendance", args=[guardian.provider.slug, row.public_id]), {"version": row.version}
    )

    row.refresh_from_db()
    assert row.voided_at


# --- The owner's pages -----------------------------------------------------------------------------------------------


def test_it_shows_a_new_pin_once(client: Client, device: DoorDevice, guardian: Guardian) -> None:
    client.force_login(make.make_member(guardian.provider))
    address = reverse("provider:guardian_pin", args=[guardian.provider.slug, guardian.public_id])

    first = client.post(address, {"submission_key": "form"}, follow=True).content.decode()
    again = client.post(address, {"submission_key": "form"}, follow=True).content.decode()

    assert "shown only now" in first
    assert "shown only now" not in again


def test_it_draws_the_link_as_a_picture_without_style(client: Client, provider: Provider, waiting: DoorDevice) -> None:
    client.force_login(make.make_member(provider))

    page = client.get(reverse("provider:door_device", args=[provider.slug, waiting.public_id])).content.decode()

    assert '<svg class="qr"' in page
    assert "style=" not in page


def test_it_shows_the_link_no_longer_once_it_was_opened(client: Client, provider: Provider, device: DoorDevice) -> None:
    client.force_login(make.make_member(provider))

    response = client.get(reverse("provider:door_device", args=[provider.slug, device.public_id]))

    assert "link" not in response.context


def test_it_ends_a_stay_that_the_owner_began(device: DoorDevice, guardian: Guardian, child: Child) -> None:
    attendance.sign_in_child(provider=guardian.provider, actor=None, today=TODAY, now=NOW, child=child)

    row = _sign(device, guardian, child, leaving=True, now=NOW + timedelta(hours=8)).record

    assert (row.brought_by, row.collected_by) == ("", "Mara Lind")
