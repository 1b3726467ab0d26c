from datetime import date, time
from decimal import Decimal
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from provider.models import AreaUnit, Membership, OpeningHours, Provider, Role, Room, User
from provider.services.accounts import AlreadySetUp, BusinessInput, LoginInput, set_up_business
from provider.services.home import OpeningInput
from tests import factories as make

SET_UP = "/set-up/"


def _typed(**changes: Any) -> dict[str, Any]:
    typed: dict[str, Any] = {
        "owner_name": "Maren Oldfield",
        "username": "maren",
        "password": "quiet-lanterns-77",
        "password_again": "quiet-lanterns-77",
        "business_name": "Willow Porch",
        "country": "US",
        "region": "MN",
        "time_zone": "America/Chicago",
        "opened_on": "2026-01-05",
        "home_area": "1640",
        "area_unit": "",
        "rooms-TOTAL_FORMS": "4",
        "rooms-INITIAL_FORMS": "0",
        "rooms-0-name": "Playroom",
        "rooms-0-area": "320",
        "rooms-0-use": "regular",
    }
    for day in range(5):
        typed |= {f"on_{day}": "on", f"begins_{day}": "07:30", f"ends_{day}": "17:30"}
    return typed | changes


def _business(name: str = "Willow Porch") -> BusinessInput:
    return BusinessInput(
        name=name,
        country="CA",
        region="ON",
        time_zone="America/Toronto",
        area_unit=AreaUnit.SQUARE_METRES,
        home_area=Decimal("150"),
        opened_on=date(2026, 1, 5),
        opening=(OpeningInput(0, time(8), time(17)),),
    )


@pytest.mark.django_db
def test_it_leads_the_first_visitor_to_the_set_up(client: Client) -> None:
    response = client.get("/")

    assert response.headers["Location"] == SET_UP


@pytest.mark.django_db
def test_it_makes_the_business_and_lands_on_today(client: Client) -> None:
    response = client.post(SET_UP, _typed())

    provider = Provider.objects.get()
    assert response.headers["Location"] == reverse("provider:today", args=[provider.slug])
    assert client.get(response.headers["Location"]).status_code == 200
    assert Membership.objects.get(provider=provider).role == Role.OWNER
    assert Room.objects.get(provider=provider).area == Decimal("320.00")
    assert OpeningHours.objects.filter(provider=provider).count() == 5
    assert provider.area_unit == AreaUnit.SQUARE_FEET


@pytest.mark.django_db
def test_it_measures_a_canadian_home_in_square_metres_unless_told_otherwise(client: Client) -> None:
    client.post(SET_UP, _typed(country="CA", region="ON", time_zone="America/Toronto"))

    assert Provider.objects.get().area_unit == AreaUnit.SQUARE_METRES


@pytest.mark.django_db
def test_it_refuses_rooms_larger_than_the_home_beside_its_area(client: Client) -> None:
    response = client.post(SET_UP, _typed(**{"rooms-0-area": "1641"}))

    assert response.status_code == 422
    assert "larger than the whole home" in str(response.context["form"].errors["home_area"])
    assert not User.objects.exists()


@pytest.mark.django_db
def test_it_refuses_a_weak_password_beside_its_box(client: Client) -> None:
    response = client.post(SET_UP, _typed(password="1234567890", password_again="1234567890"))

    assert response.context["form"].errors["password"]
    assert not User.objects.exists()


@pytest.mark.django_db
def test_it_refuses_a_province_under_the_wrong_country(client: Client) -> None:
    response = client.post(SET_UP, _typed(region="ON"))

    assert response.context["form"].errors["region"]


@pytest.mark.django_db
def test_it_keeps_what_was_typed_when_a_room_is_added_without_script(client: Client) -> None:
    response = client.post(SET_UP, _typed(add_room="yes", business_name="Half typed"))

    assert len(response.context["rooms"].forms) == 5
    assert b"Half typed" in response.content
    assert b"Playroom" in response.content
    assert not response.context["asked"]


@pytest.mark.django_db
def test_it_closes_the_set_up_once_somebody_has_a_login(client: Client) -> None:
    make.make_user()

    response = client.post(SET_UP, _typed())

    assert response.headers["Location"] == "/"
    assert not Provider.objects.exists()


@pytest.mark.django_db
def test_it_gives_two_businesses_of_one_name_different_addresses() -> None:
    make.make_provider(slug="willow-porch")

    provider = set_up_business(login=LoginInput("maren", "quiet-lanterns-77"), business=_business())

    assert provider.slug == "willow-porch-2"


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["Set up", "  ", "日本", "Help!"])
def test_it_finds_an_address_for_any_name(name: str) -> None:
    provider = set_up_business(login=LoginInput("maren", "quiet-lanterns-77"), business=_business(name or "x"))

    assert provider.slug not in ("", "set-up", "help")


@pytest.mark.django_db(transaction=True)
def test_it_lets_only_one_of_two_browsers_set_up() -> None:
    start, outcomes = Barrier(2), []

    def visit(name: str) -> None:
        start.wait()
        try:
            set_up_business(login=LoginInput(name, "quiet-lanterns-77"), business=_business(name))
            outcomes.append("made")
        except AlreadySetUp:
            outcomes.append("too late")
        finally:
            connection.close()

    threads = [Thread(target=visit, args=[name]) for name in ("first", "second")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(outcomes) == ["made", "too late"]
    assert Provider.objects.count() == 1
