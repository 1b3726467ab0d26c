"""Repeated wrong passwords close the door for a while, for that name from that address alone."""

from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings as django_settings
from django.contrib.auth import SESSION_KEY
from django.urls import reverse

from tests.factories import PASSWORD, make_member, make_provider

pytestmark = pytest.mark.django_db


def sign_in(client, user, password, address="192.0.2.1"):
    return client.post(
        reverse("provider:sign_in"), {"username": user.username, "password": password}, REMOTE_ADDR=address
    )


@pytest.fixture
def locked_out(client, time_machine):
    time_machine.move_to(datetime(2026, 3, 2, 12, tzinfo=UTC))
    user = make_member(make_provider())
    for _try in range(django_settings.AXES_FAILURE_LIMIT):
        sign_in(client, user, "wrong")
    return user


def test_the_right_password_is_refused_after_too_many_wrong_ones(client, locked_out):
    response = sign_in(client, locked_out, PASSWORD)
    assert response.status_code == 429
    assert "Try again in 15 minutes" in response.content.decode()
    assert SESSION_KEY not in client.session


def test_the_page_counts_the_minutes_that_are_left(client, locked_out, time_machine):
    time_machine.shift(timedelta(minutes=10, seconds=30))
    response = sign_in(client, locked_out, PASSWORD)
    assert "Try again in 5 minutes" in response.content.decode()


def test_another_address_is_not_locked_out(client, locked_out):
    sign_in(client, locked_out, PASSWORD, address="192.0.2.2")
    assert client.session[SESSION_KEY] == str(locked_out.pk)


def test_another_user_at_the_same_address_is_not_locked_out(client, locked_out):
    other = make_member(make_provider())
    sign_in(client, other, PASSWORD)
    assert client.session[SESSION_KEY] == str(other.pk)


def test_the_door_opens_again_after_the_wait(client, locked_out, time_machine):
    time_machine.shift(django_settings.AXES_COOLOFF_TIME + timedelta(seconds=1))
    sign_in(client, locked_out, PASSWORD)
    assert client.session[SESSION_KEY] == str(locked_out.pk)


def test_a_try_during_the_wait_does_not_lengthen_it(client, locked_out, time_machine):
    time_machine.shift(django_settings.AXES_COOLOFF_TIME - timedelta(minutes=1))
    sign_in(client, locked_out, "wrong again")
    time_machine.shift(timedelta(minutes=2))
    sign_in(client, locked_out, PASSWORD)
    assert client.session[SESSION_KEY] == str(locked_out.pk)
