"""Secret calendar addresses: who gets in, what is told, and what never is."""

import hashlib
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from provider.errors import DomainError
from provider.models import AuditEntry, CalendarFeed, Closure, FamilyPaper, OwnPaper, Provider
from provider.services.feeds import MOST_FEEDS, add_feed, renew_feed, revoke_feed
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
NOON = "2026-03-16T17:00:00Z"


@pytest.fixture
def provider() -> Provider:
    return make.make_provider(name="Home at the Mill")


def _writer(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY}


def _close(provider: Provider, reason: str, day: date = date(2026, 5, 1), **fields: Any) -> Closure:
    given = {"start": day, "end": day + timedelta(days=1), "kind": "time_off", "reason": reason, **fields}
    return Closure.objects.create(provider=provider, **given)


def _address(token: str) -> str:
    return reverse("provider:feed", args=[token])


def _read(provider: Provider) -> list[tuple[str, date, date]]:
    made = add_feed(**_writer(provider), name="My phone")
    response = Client().get(_address(made.token))
    assert response.status_code == 200
    calendar = Calendar.from_ical(response.content)
    return [(str(each["SUMMARY"]), each["DTSTART"].dt, each["DTEND"].dt) for each in calendar.walk("VEVENT")]


# Who gets in


@time_machine.travel(NOON)
def test_it_is_read_without_a_login_and_kept_by_nobody_else(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")

    response = Client().get(_address(made.token))

    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert response["Cache-Control"] == "private"
    assert response["X-Robots-Tag"] == "noindex"
    assert "Set-Cookie" not in response.headers
    assert str(Calendar.from_ical(response.content)["X-WR-CALNAME"]) == "Home at the Mill"


@pytest.mark.parametrize("token", ["wrong", "a" * 500, "é\x7f", "..", "0"])
def test_it_knows_no_other_address(provider: Provider, token: str) -> None:
    make.make_feed(provider)

    assert Client().get(_address(token)).status_code == 404


def test_it_takes_the_hash_for_no_address(provider: Provider) -> None:
    feed = make.make_feed(provider)

    assert Client().get(_address(feed.token_hash)).status_code == 404


def test_it_shows_nothing_once_an_address_was_taken_back(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")

    revoke_feed(**_writer(provider), feed=made.row)

    assert Client().get(_address(made.token)).status_code == 404


def test_it_replaces_an_address_by_another(provider: Provider) -> None:
    old = add_feed(**_writer(provider), name="My phone")

    new = renew_feed(**_writer(provider), feed=old.row)

    assert [Client().get(_address(each.token)).status_code for each in (old, new)] == [404, 200]
    assert new.row.name == "My phone"


def test_it_keeps_only_a_hash_of_the_secret(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")

    row = CalendarFeed.objects.get()
    assert row.token_hash == hashlib.sha256(made.token.encode()).hexdigest()
    assert len(made.token) >= 32
    assert not AuditEntry.objects.filter(summary__contains=made.token).exists()


def test_it_tells_the_secret_of_two_clicks_once(provider: Provider) -> None:
    first = add_feed(**_writer(provider), name="My phone", submission_key="k")
    second = add_feed(**_writer(provider), name="My phone", submission_key="k")

    assert (second.row, second.token) == (first.row, "")
    assert CalendarFeed.objects.count() == 1


def test_it_has_an_end_to_addresses(provider: Provider) -> None:
    for _n in range(MOST_FEEDS):
        make.make_feed(provider)

    with pytest.raises(DomainError):
        add_feed(**_writer(provider), name="One more")


def test_it_takes_no_post(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")

    assert Client().post(_address(made.token)).status_code == 405


@time_machine.travel(NOON)
def test_it_sends_nothing_again_that_did_not_change(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")
    first = Client().get(_address(made.token))

    again = Client().get(_address(made.token), headers={"if-none-match": first["ETag"]})
    _close(provider, "Summer break")
    changed = Client().get(_address(made.token), headers={"if-none-match": first["ETag"]})

    assert (again.status_code, again["X-Robots-Tag"]) == (304, "noindex")
    assert changed.status_code == 200


@time_machine.travel(NOON)
def test_it_answers_a_head_without_a_body(provider: Provider) -> None:
    made = add_feed(**_writer(provider), name="My phone")

    response = Client().head(_address(made.token))

    assert (response.status_code, response.content) == (200, b"")


# What is told


@time_machine.travel(NOON)
def test_it_tells_closures_but_no_voided_ones(provider: Provider) -> None:
    _close(provider, "Summer break", end=date(2026, 5, 9))
    _close(provider, "Never mind", day=date(2026, 6, 1), voided_at=datetime(2026, 1, 1, tzinfo=UTC))

    told = _read(provider)

    assert ("Closed: Summer break", date(2026, 5, 1), date(2026, 5, 9)) in told
    assert not any("Never mind" in title for title, *_span in told)


@time_machine.travel(NOON)
def test_it_tells_theme_months(provider: Provider) -> None:
    run = make.make_run(provider, start=date(2026, 4, 1), end=date(2026, 5, 1))

    assert (run.theme.name, date(2026, 4, 1), date(2026, 5, 1)) in _read(provider)


@time_machine.travel(NOON)
def test_it_tells_no_theme_month_that_was_taken_out(provider: Provider) -> None:
    run = make.make_run(
        provider, start=date(2026, 4, 1), end=date(2026, 5, 1), voided_at=datetime(2026, 1, 1, tzinfo=UTC)
    )

    assert run.theme.name not in {title for title, *_span in _read(provider)}


@time_machine.travel(NOON)
def test_it_tells_what_is_due_without_saying_whose(provider: Provider) -> None:
    child = make.make_child(make.make_household(provider), name="Wilmet Astor")
    make.make_enrolment(child)
    FamilyPaper.objects.create(
        provider=provider,
        household=child.household,
        child=child,
        kind="immunisation",
        title="Wilmet's record",
        signed_on=date(2025, 4, 1),
        expires_on=date(2026, 4, 1),
    )
    OwnPaper.objects.create(
        provider=provider,
        kind="first_aid",
        title="Course",
        issued_on=date(2025, 1, 1),
        expires_on=date(2026, 9, 1),
    )

    told = {(title, start) for title, start, _end in _read(provider)}

    assert ("A paper of a child lapses", date(2026, 4, 1)) in told
    assert ("A paper of your own lapses: First aid and resuscitation", date(2026, 9, 1)) in told
    assert ("Emergency drill is due", TODAY) in told


@time_machine.travel(NOON)
def test_it_never_names_a_child_that_was_written_into_a_title(provider: Provider) -> None:
    make.make_child(make.make_household(provider), name="Wilmet Astor", preferred_name="Billie")
    _close(provider, "BILLIE's birthday")
    _close(provider, "At the Astors", day=date(2026, 5, 8))
    run = make.make_run(provider, start=date(2026, 4, 1), end=date(2026, 5, 1))
    run.theme.name = "Wilmet's zoo"
    run.theme.save()

    titles = {title for title, *_span in _read(provider)}

    assert {"Closed", "Theme", "Closed: At the Astors"} <= titles
    assert not any(name in title.casefold() for title in titles for name in ("billie", "wilmet"))


@time_machine.travel(NOON)
def test_it_tells_nothing_of_another_house(provider: Provider) -> None:
    _close(make.make_provider(), "Their break")

    assert not any("Their break" in title for title, *_span in _read(provider))


# The owner's pages


@time_machine.travel(NOON)
def test_it_shows_the_address_this_once(provider: Provider) -> None:
    client = Client()
    client.force_login(make.make_member(provider))

    first = client.post(
        reverse("provider:feed_add", args=[provider.slug]), {"name": "My phone"}, follow=True
    ).content.decode()
    second = client.get(reverse("provider:feeds", args=[provider.slug])).content.decode()

    assert "http://testserver/feed/" in first
    assert "/feed/" not in second
    assert "My phone" in second


def test_it_asks_for_a_name(provider: Provider) -> None:
    client = Client()
    client.force_login(make.make_member(provider))

    response = client.post(reverse("provider:feed_add", args=[provider.slug]), {"name": " "})

    assert response.status_code == 422
    assert not CalendarFeed.objects.exists()
