from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.menus import keep_menu
from provider.models import Country, MealKind, MenuItem, Provider, Role
from provider.selectors.meals import Box, menu_week, stamp_of, week_items
from provider.services import menus
from provider.services.menus import StaleMenu
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 18)  # a Wednesday
NOON = datetime(2026, 3, 18, 17, 0, tzinfo=UTC)
MONDAY, THURSDAY = date(2026, 3, 16), date(2026, 3, 19)
LUNCH = MealKind.LUNCH


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _plan(provider: Provider, texts: dict[Box, str], **given: Any) -> dict[Box, MenuItem]:
    stamp = stamp_of(week_items(provider, TODAY))
    return menus.plan_week(
        **{"provider": provider, "actor": None, "today": TODAY, "day": TODAY, "texts": texts, "version": stamp, **given}
    )


def test_it_plans_a_week(provider: Provider) -> None:
    items = _plan(provider, {(THURSDAY, LUNCH): " Rice and beans ", (THURSDAY, MealKind.BREAKFAST): ""})

    assert {box: row.text for box, row in items.items()} == {(THURSDAY, LUNCH): "Rice and beans"}


def test_it_saves_the_same_week_twice_without_asking(provider: Provider) -> None:
    stamp = stamp_of({})

    for _click in range(2):
        items = _plan(provider, {(THURSDAY, LUNCH): "Rice"}, version=stamp)

    assert [row.version for row in items.values()] == [1]


def test_it_asks_when_somebody_else_changed_the_week(provider: Provider) -> None:
    opened = stamp_of({})
    _plan(provider, {(THURSDAY, LUNCH): "Rice"})

    with pytest.raises(StaleMenu) as question:
        _plan(provider, {(THURSDAY, LUNCH): "Soup"}, version=opened)

    assert _plan(provider, {(THURSDAY, LUNCH): "Soup"}, version=question.value.stamp)[THURSDAY, LUNCH].text == "Soup"


def test_it_takes_away_what_was_planned_for_a_day_to_come(provider: Provider) -> None:
    make.make_menu_item(provider, THURSDAY)

    assert _plan(provider, {(THURSDAY, LUNCH): ""}) == {}


@pytest.mark.parametrize(("day", "text"), [(MONDAY, "Soup"), (MONDAY, ""), (TODAY, "")])
def test_it_keeps_what_was_planned_for_a_day_that_began(provider: Provider, day: date, text: str) -> None:
    make.make_menu_item(provider, day, text="Rice")

    with pytest.raises(DomainError):
        _plan(provider, {(day, LUNCH): text})

    assert MenuItem.objects.get().text == "Rice"


def test_it_writes_down_afterwards_what_was_never_planned(provider: Provider) -> None:
    assert _plan(provider, {(MONDAY, LUNCH): "Soup"})[MONDAY, LUNCH].text == "Soup"


@pytest.mark.parametrize("day", [date(2026, 3, 15), date(2026, 3, 23)])
def test_it_refuses_a_box_of_another_week(provider: Provider, day: date) -> None:
    with pytest.raises(DomainError):
        _plan(provider, {(day, LUNCH): "Rice"})


def test_it_refuses_a_closed_year(provider: Provider) -> None:
    make.lock_year(provider, 2026)

    with pytest.raises(PeriodLocked):
        _plan(provider, {(THURSDAY, LUNCH): "Rice"})


def test_it_copies_last_week_into_the_empty_boxes_ahead(provider: Provider) -> None:
    for day in (date(2026, 3, 9), date(2026, 3, 12), date(2026, 3, 13)):
        make.make_menu_item(provider, day, text=f"Dish of {day.day}", served_instead="Bread")
    make.make_menu_item(provider, date(2026, 3, 20), text="Mine")

    items = menus.copy_last_week(provider=provider, actor=None, today=TODAY, day=TODAY)

    assert {day.day: row.text for (day, _kind), row in items.items()} == {19: "Dish of 12", 20: "Mine"}
    assert items[THURSDAY, LUNCH].served_instead == ""


def test_it_copies_once_for_two_clicks(provider: Provider) -> None:
    make.make_menu_item(provider, date(2026, 3, 12))

    for _click in range(2):
        menus.copy_last_week(provider=provider, actor=None, today=TODAY, day=TODAY)

    assert MenuItem.objects.count() == 2


def test_it_has_nothing_to_copy_from_an_empty_week(provider: Provider) -> None:
    with pytest.raises(DomainError):
        menus.copy_last_week(provider=provider, actor=None, today=TODAY, day=TODAY)


def _note(item: MenuItem, **given: Any) -> MenuItem:
    return menus.note_served_instead(
        **{
            "provider": item.provider,
            "actor": None,
            "today": TODAY,
            "item": item,
            "version": 1,
            "served_instead": "Bread",
            **given,
        }
    )


def test_it_notes_what_was_served_instead_beside_the_plan(provider: Provider) -> None:
    row = _note(make.make_menu_item(provider, MONDAY))

    assert (row.text, row.served_instead) == ("Lentil soup", "Bread")


def test_it_asks_about_a_note_on_an_older_version(provider: Provider) -> None:
    item = make.make_menu_item(provider, MONDAY)
    _note(item)

    with pytest.raises(StaleRow):
        _note(item, served_instead="Cheese")


def test_it_notes_nothing_on_a_day_to_come(provider: Provider) -> None:
    with pytest.raises(DomainError):
        _note(make.make_menu_item(provider, THURSDAY))


def test_it_notes_nothing_for_another_business(provider: Provider) -> None:
    with pytest.raises(ForeignRow):
        _note(make.make_menu_item(make.make_provider(), MONDAY), provider=provider)


def test_a_week_is_read_in_two_queries(provider: Provider, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for kind in MealKind:
        make.make_menu_item(provider, MONDAY, kind)

    with django_assert_num_queries(2):
        week = menu_week(provider, TODAY)

    assert [len(day.items) for day in week.days] == [6] * 5


def test_it_keeps_an_ontario_menu_for_thirty_days() -> None:
    keep = keep_menu("CA", "ON", date(2026, 3, 20))

    assert keep is not None
    assert (keep.until, keep.is_published) == (date(2026, 4, 20), True)


def test_it_keeps_a_menu_in_the_united_states_for_three_years_after_the_food_year() -> None:
    keep = keep_menu("US", "WI", date(2026, 3, 20))

    assert keep is not None
    assert (keep.until.year, keep.source[:13]) == (2029, "7 CFR 226.10(")


@time_machine.travel(NOON, tick=False)
def test_a_helper_plans_and_posts_the_menu(provider: Provider, client: Client) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))
    where = [provider.slug, 2026, 3, 18]
    stamp = client.get(reverse("provider:menu_of_week", args=where)).context["form"]["version"].value()

    client.post(reverse("provider:menu_of_week", args=where), {"20260319-lunch": "Rice & beans", "version": stamp})
    posted = client.get(reverse("provider:menu_post", args=where)).content.decode()

    assert "Rice &amp; beans" in posted
    assert posted.count("<table") == 2


@time_machine.travel(NOON, tick=False)
def test_the_form_asks_once_about_a_stale_week(provider: Provider, client: Client) -> None:
    make.make_menu_item(provider, THURSDAY, text="Rice")
    client.force_login(make.make_member(provider, Role.OWNER))
    address = reverse("provider:menu_of_week", args=[provider.slug, 2026, 3, 18])

    asked = client.post(address, {"20260319-lunch": "Soup", "version": "0"})
    answered = client.post(address, {"20260319-lunch": "Soup", "version": asked.context["form"]["version"].value()})

    assert (asked.status_code, answered.status_code) == (422, 302)
    assert MenuItem.objects.get().text == "Soup"


@time_machine.travel(NOON, tick=False)
def test_the_form_refuses_a_dish_that_is_too_long(provider: Provider, client: Client) -> None:
    client.force_login(make.make_member(provider, Role.OWNER))

    response = client.post(
        reverse("provider:menu_of_week", args=[provider.slug, 2026, 3, 18]), {"20260319-lunch": "x" * 201}
    )

    assert response.status_code == 422
    assert MenuItem.objects.count() == 0


@time_machine.travel(NOON, tick=False)
def test_the_page_says_until_when_the_menu_is_kept(client: Client) -> None:
    provider = make.make_provider(Country.CANADA, region="ON")
    make.make_menu_item(provider, THURSDAY)
    client.force_login(make.make_member(provider, Role.OWNER))

    page = client.get(reverse("provider:menu_of_week", args=[provider.slug, 2026, 3, 18])).content.decode()

    assert "O. Reg. 137/15" in page
