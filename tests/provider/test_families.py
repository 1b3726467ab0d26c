from datetime import date, time
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import AuditEntry, Child, Enrolment, Household, PatternDay, Provider, Role
from provider.selectors.attendance import day_sheet
from provider.selectors.families import age_on, household_cards, household_page
from provider.services import families
from provider.services.families import EnrolmentOverlap, PatternInput
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)  # a Monday
WEEKDAYS = [PatternInput(day, time(8), time(16)) for day in range(5)]


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    return make.make_child(make.make_household(provider))


def _enrol(child: Child, **changes: Any) -> Enrolment:
    given = {"start": TODAY, "pattern": WEEKDAYS, **changes}
    return families.enrol_child(provider=child.provider, actor=None, today=TODAY, child=child, **given)


def test_it_enrols_a_child_with_its_week(child: Child) -> None:
    enrolment = _enrol(child)

    assert [day.weekday for day in enrolment.pattern.order_by("weekday")] == [0, 1, 2, 3, 4]
    assert AuditEntry.objects.filter(object_public_id=enrolment.public_id, verb="enrol").exists()


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (date(2026, 1, 1), date(2026, 3, 2)),
        (date(2026, 3, 31), None),
        (date(2026, 3, 10), date(2026, 3, 12)),
        (date(2025, 1, 1), None),
    ],
)
def test_it_refuses_two_places_on_one_day(child: Child, start: date, end: date | None) -> None:
    _enrol(child, start=date(2026, 3, 1), end=date(2026, 4, 1))

    with pytest.raises(EnrolmentOverlap):
        _enrol(child, start=start, end=end)


def test_it_lets_a_place_follow_another_on_the_next_day(child: Child) -> None:
    _enrol(child, start=date(2026, 3, 1), end=date(2026, 4, 1))

    _enrol(child, start=date(2026, 4, 1))

    assert Enrolment.objects.filter(child=child).count() == 2


def test_it_refuses_a_place_for_a_child_of_another_business(provider: Provider, child: Child) -> None:
    other = make.make_provider()

    with pytest.raises(ForeignRow):
        families.enrol_child(provider=other, actor=None, today=TODAY, child=child, start=TODAY, pattern=WEEKDAYS)


def test_it_refuses_a_place_in_a_closed_year(child: Child) -> None:
    make.lock_year(child.provider, 2025)

    with pytest.raises(PeriodLocked) as refusal:
        _enrol(child, start=date(2025, 6, 1))

    assert refusal.value.field == "start"


def test_it_enrols_once_for_a_double_click(child: Child) -> None:
    first = _enrol(child, submission_key="one")

    second = _enrol(child, submission_key="one")

    assert first == second
    assert Enrolment.objects.count() == 1


def test_it_keeps_the_days_before_a_change_of_pattern(child: Child) -> None:
    enrolment = _enrol(child, start=date(2026, 1, 5))

    families.change_pattern(
        provider=child.provider,
        actor=None,
        today=TODAY,
        enrolment=enrolment,
        start=date(2026, 3, 23),
        pattern=[PatternInput(1, time(9), time(12))],
    )

    before, after = day_sheet(child.provider, TODAY), day_sheet(child.provider, date(2026, 3, 24))
    assert before.expected[0].planned[0].start == time(8)
    assert after.expected[0].planned[0].start == time(9)
    assert day_sheet(child.provider, date(2026, 3, 23)).expected == []


def test_it_refuses_a_change_of_pattern_that_reaches_into_a_closed_year(child: Child) -> None:
    enrolment = _enrol(child, start=date(2024, 6, 3))
    make.lock_year(child.provider, 2025)

    with pytest.raises(PeriodLocked):
        families.change_pattern(
            provider=child.provider,
            actor=None,
            today=TODAY,
            enrolment=enrolment,
            start=date(2024, 9, 2),
            pattern=WEEKDAYS,
        )


def test_it_ends_and_reopens_a_place(child: Child) -> None:
    enrolment = _enrol(child)
    given: dict[str, Any] = {"provider": child.provider, "actor": None, "today": TODAY, "enrolment": enrolment}

    ended = families.end_enrolment(**given, version=1, end=date(2026, 7, 1))
    reopened = families.end_enrolment(**given, version=ended.version, end=None)

    assert ended.end == date(2026, 7, 1)
    assert reopened.end is None


def test_it_refuses_to_reopen_a_place_into_the_next_one(child: Child) -> None:
    first = _enrol(child, start=date(2026, 1, 1), end=date(2026, 3, 1))
    _enrol(child, start=date(2026, 4, 1))

    with pytest.raises(EnrolmentOverlap):
        families.end_enrolment(provider=child.provider, actor=None, today=TODAY, enrolment=first, version=1, end=None)


def test_it_questions_a_stale_save(child: Child) -> None:
    given: dict[str, Any] = {"provider": child.provider, "actor": None, "today": TODAY, "child": child}
    families.change_child(**given, version=1, name="First")

    with pytest.raises(StaleRow):
        families.change_child(**given, version=1, name="Second")


def test_it_refuses_a_birth_in_the_future(child: Child) -> None:
    with pytest.raises(DomainError) as refusal:
        families.change_child(
            provider=child.provider, actor=None, today=TODAY, child=child, version=1, birth_date=date(2026, 3, 17)
        )

    assert refusal.value.field == "birth_date"


def test_it_keeps_a_child_s_physician_out_of_the_history(child: Child) -> None:
    families.change_child(
        provider=child.provider, actor=None, today=TODAY, child=child, version=1, physician="Dr. Hazelnuts"
    )

    assert "Hazelnuts" not in str(AuditEntry.objects.get(verb="change").changes)


@pytest.mark.parametrize(
    ("day", "age"),
    [
        (date(2026, 5, 13), (3, 11)),
        (date(2026, 5, 14), (4, 0)),
        (date(2022, 5, 14), (0, 0)),
        (date(2022, 6, 13), (0, 0)),
    ],
)
def test_it_counts_whole_years_and_months(day: date, age: tuple[int, int]) -> None:
    assert age_on(date(2022, 5, 14), day) == age


def test_it_lists_families_in_constant_queries(
    provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _n in range(4):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    with django_assert_num_queries(4):
        cards = household_cards(provider, TODAY)

    assert len(cards) == 4


def test_it_moves_a_family_without_a_place_to_the_past(provider: Provider) -> None:
    gone = make.make_child(make.make_household(provider, name="Gone"))
    make.make_enrolment(gone, end=TODAY)

    assert household_cards(provider, TODAY) == []
    assert [card.household.name for card in household_cards(provider, TODAY, past=True)] == ["Gone"]


def test_it_finds_a_family_by_the_name_of_a_child_or_guardian(provider: Provider) -> None:
    household = make.make_household(provider, name="Tansley")
    make.make_enrolment(make.make_child(household, name="Isolde"))
    make.make_guardian(household, name="Ruth Amberley")
    make.make_household(provider, name="Other")

    for words in ("isol", "amber", "tans"):
        assert [card.household for card in household_cards(provider, TODAY, search=words)] == [household]


def test_it_reads_a_household_in_constant_queries(
    provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    household = make.make_household(provider)
    for _n in range(3):
        make.make_enrolment(make.make_child(household))

    with django_assert_num_queries(5):
        page = household_page(household, TODAY)

    assert [len(each.places[0].pattern) for each in page.children] == [5, 5, 5]


def test_it_saves_a_family_from_the_page(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))

    response = client.post(
        reverse("provider:household_add", args=[provider.slug]), {"name": "Tansley", "language": "fr"}
    )

    household = Household.objects.get(name="Tansley")
    assert response.headers["Location"] == reverse("provider:household", args=[provider.slug, household.public_id])


def test_it_enrols_from_the_page_up_to_and_with_the_last_day(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    typed = {
        "start": "2026-03-16",
        "last_day": "2026-06-30",
        "on_0": "on",
        "begins_0": "08:00",
        "ends_0": "16:00",
        "cycle_0": "odd",
    }

    client.post(reverse("provider:enrolment_add", args=[child.provider.slug, child.public_id]), typed)

    assert Enrolment.objects.get(child=child).end == date(2026, 7, 1)
    assert PatternDay.objects.get().cycle == "odd"


def test_it_asks_for_both_times_of_a_ticked_day(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))

    response = client.post(
        reverse("provider:enrolment_add", args=[child.provider.slug, child.public_id]),
        {"start": "2026-03-16", "on_0": "on", "begins_0": "08:00"},
    )

    assert response.status_code == 422
    assert response.context["form"].errors["begins_0"]


def test_it_shows_a_helper_allergies_but_no_way_to_change(client: Client, child: Child) -> None:
    make.make_care_need(child, what="Hazelnuts")
    client.force_login(make.make_member(child.provider, Role.HELPER))

    page = client.get(reverse("provider:household", args=[child.provider.slug, child.household.public_id]))

    assert "Hazelnuts" in page.content.decode()
    assert reverse("provider:child_change", args=[child.provider.slug, child.public_id]) not in page.content.decode()


def test_it_shows_both_versions_after_a_stale_save_and_saves_the_second_time(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    address = reverse("provider:child_change", args=[child.provider.slug, child.public_id])
    typed = {"name": "Typed here", "birth_date": "2022-05-14", "version": "1"}
    families.change_child(
        provider=child.provider, actor=None, today=TODAY, child=child, version=1, name="Saved elsewhere"
    )

    questioned = client.post(address, typed)
    page = questioned.content.decode()
    client.post(address, {**typed, "version": questioned.context["form"]["version"].value()})

    child.refresh_from_db()
    assert "Saved elsewhere" in page
    assert "Typed here" in page
    assert child.name == "Typed here"
