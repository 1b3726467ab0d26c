from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider import doors
from provider.doors import Notice
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import Attendance, AuditEntry, Child, Closure, ClosureKind, Provider, Role
from provider.periods import DateSpan
from provider.selectors.attendance import day_sheet, month_grid
from provider.services import attendance
from provider.services.attendance import StayInput
from provider.services.stays import AttendanceOverlap, LongStay, NotHere
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)  # a Monday
NOW = datetime(2026, 3, 16, 15, 30, tzinfo=UTC)  # 10:30 in Chicago


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    child = make.make_child(make.make_household(provider))
    make.make_enrolment(child)
    return child


def _writer(provider: Provider, **changes: Any) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY, "now": NOW, **changes}


def _at(hour: int, minute: int = 0, day: date = TODAY) -> datetime:
    """A time in Chicago, which is five hours behind UTC after 8 March 2026."""
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC) + timedelta(hours=5)


def _stay(child: Child, arrives: datetime, leaves: datetime | None = None, **changes: Any) -> Attendance:
    given = {"day": TODAY, **changes}
    return attendance.record_stay(**_writer(child.provider), child=child, arrived_at=arrives, left_at=leaves, **given)


def test_it_signs_a_child_in_and_out(child: Child) -> None:
    attendance.sign_in_child(**_writer(child.provider), child=child, at=_at(8))

    row = attendance.sign_out_child(**_writer(child.provider), child=child, at=_at(10))

    assert (row.day, row.arrived_at, row.left_at) == (TODAY, _at(8), _at(10))


def test_it_signs_in_once_for_two_taps(child: Child) -> None:
    for _tap in range(2):
        attendance.sign_in_child(**_writer(child.provider), child=child, submission_key="tap")

    assert Attendance.objects.count() == 1


def test_it_refuses_to_sign_in_a_child_who_is_here(child: Child) -> None:
    attendance.sign_in_child(**_writer(child.provider), child=child, at=_at(8))

    with pytest.raises(AttendanceOverlap):
        attendance.sign_in_child(**_writer(child.provider), child=child)


def test_it_refuses_to_sign_out_a_child_who_is_not_here(child: Child) -> None:
    with pytest.raises(NotHere):
        attendance.sign_out_child(**_writer(child.provider), child=child)


def test_it_keeps_a_stay_of_less_than_a_minute_as_one_minute(child: Child) -> None:
    attendance.sign_in_child(**_writer(child.provider), child=child)

    row = attendance.sign_out_child(**_writer(child.provider), child=child)

    assert row.left_at
    assert row.arrived_at
    assert row.left_at - row.arrived_at == timedelta(minutes=1)


@pytest.mark.parametrize(
    ("arrives", "leaves", "field"),
    [
        (_at(11), None, "arrived_at"),
        (_at(9), _at(11), "left_at"),
        (_at(9), _at(8), "left_at"),
        (_at(9), _at(9), "left_at"),
        (_at(9, day=date(2026, 3, 13)), None, "arrived_at"),
    ],
)
def test_it_refuses_times_that_cannot_be(child: Child, arrives: datetime, leaves: datetime | None, field: str) -> None:
    with pytest.raises(DomainError) as refusal:
        _stay(child, arrives, leaves)

    assert refusal.value.field == field


def test_it_refuses_a_day_that_has_not_come(child: Child) -> None:
    tomorrow = TODAY + timedelta(days=1)

    with pytest.raises(DomainError) as refusal:
        _stay(child, _at(8, day=tomorrow), day=tomorrow)

    assert refusal.value.field == "day"


def test_it_asks_when_a_child_left_whose_day_is_long_over(child: Child) -> None:
    friday = date(2026, 3, 13)

    with pytest.raises(DomainError) as refusal:
        _stay(child, _at(8, day=friday), day=friday)

    assert refusal.value.field == "left_at"


@pytest.mark.parametrize(("arrives", "leaves"), [(7, 9), (9, None), (8, 10), (7, 10)])
def test_it_refuses_stays_of_one_child_that_overlap(child: Child, arrives: int, leaves: int | None) -> None:
    _stay(child, _at(8), _at(10))

    with pytest.raises(AttendanceOverlap):
        _stay(child, _at(arrives), None if leaves is None else _at(leaves))


def test_it_allows_a_second_stay_from_the_minute_the_first_ended(child: Child) -> None:
    _stay(child, _at(7), _at(8))

    _stay(child, _at(8), _at(9))

    assert Attendance.objects.count() == 2


def test_it_asks_about_a_stay_of_more_than_a_day(child: Child) -> None:
    friday = date(2026, 3, 13)

    with pytest.raises(LongStay):
        _stay(child, _at(8, day=friday), _at(9, day=date(2026, 3, 14)), day=friday)


def test_it_keeps_a_long_stay_that_was_confirmed(child: Child) -> None:
    friday = date(2026, 3, 13)

    row = _stay(child, _at(8, day=friday), _at(9, day=date(2026, 3, 14)), day=friday, confirmed=True)

    assert row.pk


def test_it_refuses_a_stay_in_a_closed_year_with_the_reason(child: Child) -> None:
    make.lock_year(child.provider, 2025)
    day = date(2025, 6, 2)

    with pytest.raises(PeriodLocked) as refusal:
        _stay(child, _at(8, day=day), _at(9, day=day), day=day)

    assert "2025 is closed" in refusal.value.message


def test_it_refuses_to_correct_or_void_in_a_closed_year(child: Child) -> None:
    row = make.make_attendance(child, date(2025, 6, 2))
    make.lock_year(child.provider, 2025)

    with pytest.raises(PeriodLocked):
        attendance.void_attendance(provider=child.provider, actor=None, today=TODAY, attendance=row, reason="No")
    with pytest.raises(PeriodLocked):
        attendance.correct_attendance(
            **_writer(child.provider), attendance=row, version=1, reason="No", arrived_at=row.arrived_at
        )


def test_it_refuses_a_child_of_another_business(child: Child) -> None:
    with pytest.raises(ForeignRow):
        attendance.sign_in_child(**_writer(make.make_provider()), child=child)


def test_it_takes_an_absence_out_when_the_child_comes_after_all(child: Child) -> None:
    absence = attendance.record_absence(**_writer(child.provider), child=child, day=TODAY, absence="ill")

    attendance.sign_in_child(**_writer(child.provider), child=child)

    absence.refresh_from_db()
    assert absence.voided_at
    assert day_sheet(child.provider, TODAY).here[0].child == child


def test_it_refuses_an_absence_on_a_day_the_child_was_here(child: Child) -> None:
    _stay(child, _at(8), _at(10))

    with pytest.raises(AttendanceOverlap):
        attendance.record_absence(**_writer(child.provider), child=child, day=TODAY, absence="ill")


def test_it_takes_an_absence_for_a_coming_day(child: Child) -> None:
    row = attendance.record_absence(
        **_writer(child.provider), child=child, day=TODAY + timedelta(days=7), absence="away"
    )

    assert row.absence == "away"


def test_it_keeps_what_a_correction_changed_and_why(child: Child) -> None:
    row = _stay(child, _at(8), _at(10))

    attendance.correct_attendance(
        **_writer(child.provider),
        attendance=row,
        version=1,
        reason="read the clock wrongly",
        arrived_at=_at(9),
        left_at=_at(10),
    )

    entry = AuditEntry.objects.get(verb="correct")
    assert "read the clock wrongly" in entry.summary
    assert entry.changes["arrived_at"] == [str(_at(8)), str(_at(9))]


def test_it_questions_a_stale_correction(child: Child) -> None:
    row = _stay(child, _at(8), _at(10))
    given: dict[str, Any] = {"attendance": row, "version": 1, "reason": "typing", "arrived_at": _at(9)}
    attendance.correct_attendance(**_writer(child.provider), **given, left_at=_at(10))

    with pytest.raises(StaleRow):
        attendance.correct_attendance(**_writer(child.provider), **given, left_at=_at(10))


def test_it_lets_a_time_be_recorded_again_after_it_was_voided(child: Child) -> None:
    row = _stay(child, _at(8), _at(10))
    attendance.void_attendance(provider=child.provider, actor=None, today=TODAY, attendance=row, reason="twice")

    again = _stay(child, _at(8), _at(10))

    assert again.pk != row.pk


def test_it_records_a_day_at_once_in_constant_queries(
    provider: Provider, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    children = [make.make_child(make.make_household(provider)) for _n in range(8)]
    stays = [StayInput(each, _at(8), _at(10)) for each in children[:-1]] + [StayInput(children[-1], absence="ill")]

    with django_assert_max_num_queries(9):
        rows = attendance.record_day(**_writer(provider), day=TODAY, stays=stays)

    assert len(rows) == 8


def test_it_records_all_of_a_day_or_nothing(child: Child) -> None:
    stays = [StayInput(child, _at(8), _at(10)), StayInput(child, _at(9), _at(10))]

    with pytest.raises(AttendanceOverlap):
        attendance.record_day(**_writer(child.provider), day=TODAY, stays=stays)

    assert not Attendance.objects.exists()


def test_it_expects_nobody_while_closed(child: Child) -> None:
    Closure.objects.create(
        provider=child.provider, start=TODAY, end=TODAY + timedelta(days=1), kind=ClosureKind.WEATHER, reason="Snow"
    )

    assert day_sheet(child.provider, TODAY).expected == []


def test_it_names_whoever_was_never_signed_out(child: Child) -> None:
    row = make.make_attendance(child, date(2026, 3, 13), leaves=None)

    assert day_sheet(child.provider, TODAY).forgotten == (row,)


def test_it_reads_a_day_in_constant_queries(
    provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _n in range(5):
        each = make.make_child(make.make_household(provider))
        make.make_enrolment(each)
        make.make_attendance(each, TODAY)

    with django_assert_num_queries(7):
        sheet = day_sheet(provider, TODAY)

    assert len(sheet.done) == 5


def test_it_reads_a_month_in_constant_queries_with_sums_rounded_once(
    provider: Provider, child: Child, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for day in (2, 3, 4):
        attendance.record_stay(
            **_writer(provider),
            child=child,
            day=date(2026, 3, day),
            arrived_at=datetime(2026, 3, day, 14, 0, tzinfo=UTC),
            left_at=datetime(2026, 3, day, 14, 20, tzinfo=UTC),
        )

    with django_assert_num_queries(2):
        grid = month_grid(provider, DateSpan.month(2026, 3))

    assert grid.rows[0].cells[1].hours == Decimal("0.33")
    assert grid.rows[0].hours == Decimal("1.00")
    assert (grid.present[1], grid.child_days) == (1, 3)


def test_it_signs_in_with_one_tap_on_today(client: Client, provider: Provider, child: Child) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))

    response = client.post(
        reverse("provider:sign_in_child", args=[provider.slug, child.public_id]), {"submission_key": "a"}, follow=True
    )

    assert response.redirect_chain[0][0] == reverse("provider:today", args=[provider.slug])
    assert "is here." in response.content.decode()


def test_it_says_a_refused_tap_on_today(client: Client, provider: Provider, child: Child) -> None:
    client.force_login(make.make_member(provider))

    response = client.post(reverse("provider:sign_out_child", args=[provider.slug, child.public_id]), {}, follow=True)

    assert "is not signed in" in response.content.decode()


def test_it_shows_notices_made_for_the_role_of_the_visitor(
    client: Client, provider: Provider, monkeypatch: pytest.MonkeyPatch
) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))
    monkeypatch.setattr(doors, "notices", [lambda _provider, role, _today: [Notice(f"for the {role}", "/x/", "Go")]])

    page = client.get(reverse("provider:today", args=[provider.slug])).content.decode()

    assert "for the helper" in page


def test_it_reads_today_in_constant_queries(
    client: Client, provider: Provider, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))
    for _n in range(6):
        make.make_enrolment(make.make_child(make.make_household(provider)))

    with django_assert_max_num_queries(26):
        response = client.get(reverse("provider:today", args=[provider.slug]))

    assert response.status_code == 200


def test_it_adds_a_stay_from_the_page_in_local_time(client: Client, provider: Provider, child: Child) -> None:
    client.force_login(make.make_member(provider))
    typed = {"child": child.public_id, "day": "2025-01-06", "arrived_at": "08:00", "left_at": "16:30"}

    client.post(reverse("provider:attendance_add", args=[provider.slug]), typed)

    assert Attendance.objects.get().arrived_at == datetime(2025, 1, 6, 14, 0, tzinfo=UTC)


def test_it_offers_to_confirm_a_long_stay(client: Client, provider: Provider, child: Child) -> None:
    client.force_login(make.make_member(provider))
    address = reverse("provider:attendance_add", args=[provider.slug])
    typed = {
        "child": child.public_id,
        "day": "2025-01-06",
        "arrived_at": "08:00",
        "left_at": "09:00",
        "next_day": "on",
    }

    doubted = client.post(address, typed)
    confirmed = client.post(address, {**typed, "confirmed": "on"})

    assert doubted.status_code == 422
    assert confirmed.status_code == 302


def test_it_refuses_a_child_of_another_business_on_the_page(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    foreign = make.make_child(make.make_household(make.make_provider()))

    response = client.post(
        reverse("provider:attendance_add", args=[provider.slug]),
        {"child": foreign.public_id, "day": "2025-01-06", "arrived_at": "08:00"},
    )

    assert response.context["form"].errors["child"]
    assert not Attendance.objects.exists()


@pytest.mark.parametrize("address", ["2026/13/", "2026/2/30/", "0/1/1/", "9999/12/31/", "9999/12/", "1/1/"])
def test_it_knows_no_such_day_or_month(client: Client, provider: Provider, address: str) -> None:
    client.force_login(make.make_member(provider))

    response = client.get(f"{reverse('provider:attendance', args=[provider.slug])}{address}")

    assert response.status_code == 404
