from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from provider.errors import StaleRow
from provider.models import Attendance, AuditEntry, Child, Provider, Role
from provider.selectors.attendance import day_sheet
from provider.services import attendance
from provider.services.attendance import TooLateToUndo
from provider.services.stays import AttendanceOverlap
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)  # a Monday
NOW = datetime(2026, 3, 16, 13, 5, tzinfo=UTC)  # 8:05 in Chicago, where the child is expected at 8:00


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    child = make.make_child(make.make_household(provider))
    make.make_enrolment(child)
    return child


def _writer(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY, "now": datetime.now(UTC)}


def _sign_in(child: Child) -> Attendance:
    return attendance.sign_in_child(**_writer(child.provider), child=child)


def _undo(row: Attendance) -> Attendance:
    return attendance.undo_attendance(**_writer(row.provider), attendance=row, version=row.version)


def test_it_voids_a_sign_in_that_is_undone_and_keeps_it_in_the_trail(child: Child) -> None:
    row = _undo(_sign_in(child))

    assert row.voided_at
    assert AuditEntry.objects.filter(verb="undo", object_public_id=row.public_id).count() == 1


def test_it_brings_a_child_back_whose_sign_out_is_undone(child: Child, clock: time_machine.Traveller) -> None:
    _sign_in(child)
    clock.shift(timedelta(hours=1))
    left = attendance.sign_out_child(
        **_writer(child.provider), child=child, other="A neighbour", note="Mara rang at four"
    )

    row = _undo(left)

    assert (row.left_at, row.collected_by, row.note) == (None, "", "")


def test_it_restores_the_absence_that_a_wrong_sign_in_took_out(child: Child) -> None:
    attendance.record_absence(**_writer(child.provider), child=child, day=TODAY, absence="ill")

    _undo(_sign_in(child))

    assert day_sheet(child.provider, TODAY).done[0].absence


def test_it_takes_an_absence_back(child: Child) -> None:
    row = _undo(attendance.record_absence(**_writer(child.provider), child=child, day=TODAY, absence="ill"))

    assert row.voided_at
    assert [each.child for each in day_sheet(child.provider, TODAY).expected] == [child]


def test_it_undoes_for_ten_minutes(child: Child, clock: time_machine.Traveller) -> None:
    row = _sign_in(child)
    clock.shift(timedelta(minutes=10, seconds=1))

    with pytest.raises(TooLateToUndo):
        _undo(row)


def test_it_undoes_nothing_that_was_corrected_since(child: Child) -> None:
    row = _sign_in(child)
    corrected = attendance.correct_attendance(
        **_writer(child.provider), attendance=row, version=row.version, reason="misread", arrived_at=NOW
    )

    with pytest.raises(TooLateToUndo):
        _undo(corrected)


def test_it_questions_an_undo_from_a_stale_page(child: Child) -> None:
    row = _sign_in(child)
    stale = row.version
    attendance.sign_out_child(**_writer(child.provider), child=child)

    with pytest.raises(StaleRow):
        attendance.undo_attendance(**_writer(child.provider), attendance=row, version=stale)


def test_it_brings_nobody_back_who_was_signed_in_again(child: Child, clock: time_machine.Traveller) -> None:
    _sign_in(child)
    clock.shift(timedelta(minutes=2))
    left = attendance.sign_out_child(**_writer(child.provider), child=child)
    clock.shift(timedelta(minutes=2))
    _sign_in(child)

    with pytest.raises(AttendanceOverlap):
        _undo(left)


def test_it_undoes_once_for_two_taps(child: Child) -> None:
    row = _sign_in(child)

    for _tap in range(2):
        attendance.undo_attendance(**_writer(child.provider), attendance=row, version=row.version, submission_key="tap")

    assert AuditEntry.objects.filter(verb="undo").count() == 1


def test_it_offers_to_undo_on_today_while_it_may_be(
    client: Client, child: Child, clock: time_machine.Traveller
) -> None:
    client.force_login(make.make_member(child.provider, Role.HELPER))
    address = reverse("provider:undo_attendance", args=[child.provider.slug, _sign_in(child).public_id])

    pages = []
    for _look in range(2):
        pages.append(client.get(reverse("provider:today", args=[child.provider.slug])).content.decode())
        clock.shift(timedelta(minutes=11))

    assert [address in page for page in pages] == [True, False]


@pytest.mark.parametrize(("minutes", "late"), [(15, 0), (16, 16), (40, 40)])
def test_it_calls_a_child_late_after_a_quarter_of_an_hour(child: Child, minutes: int, late: int) -> None:
    now = datetime.combine(TODAY, time(8), child.provider.zone) + timedelta(minutes=minutes)

    assert day_sheet(child.provider, TODAY, now).expected[0].late == late


def test_it_measures_lateness_by_the_clock_on_the_wall_when_clocks_change(provider: Provider) -> None:
    child = make.make_child(make.make_household(provider))
    make.make_enrolment(child, weekdays=(6,))
    sunday = date(2026, 3, 8)
    half_past_eight = datetime(2026, 3, 8, 13, 30, tzinfo=UTC)  # summer time since 2:00

    assert day_sheet(provider, sunday, half_past_eight).expected[0].late == 30


def test_it_keeps_why_a_child_came_late(client: Client, child: Child, clock: time_machine.Traveller) -> None:
    clock.shift(timedelta(minutes=30))
    row = _sign_in(child)
    client.force_login(make.make_member(child.provider, Role.HELPER))
    address = reverse("provider:attendance_note", args=[child.provider.slug, row.public_id])

    client.post(address, {"version": row.version, "note": "dentist"})

    page = client.get(reverse("provider:today", args=[child.provider.slug])).content.decode()
    assert "35 minutes late" in page
    assert "(dentist)" in page


def test_it_records_a_common_reason_of_absence_with_its_button(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider, Role.HELPER))

    client.post(
        reverse("provider:attendance_absent", args=[child.provider.slug]),
        {"child": child.public_id, "day": "2026-03-16", "absence": "", "common": "Ill"},
    )

    assert Attendance.objects.get().absence == "Ill"


def test_it_wants_some_reason_of_absence(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider, Role.HELPER))

    response = client.post(
        reverse("provider:attendance_absent", args=[child.provider.slug]),
        {"child": child.public_id, "day": "2026-03-16", "absence": " "},
    )

    assert response.context["form"].errors["absence"]


def test_it_shows_a_child_who_stays_over_midnight_as_here(
    client: Client, child: Child, clock: time_machine.Traveller
) -> None:
    row = make.make_attendance(child, TODAY, arrives=18, leaves=None)
    client.force_login(make.make_member(child.provider, Role.HELPER))
    clock.move_to(datetime(2026, 3, 17, 6, 30, tzinfo=UTC), tick=False)  # 1:30 in Chicago

    page = client.get(reverse("provider:today", args=[child.provider.slug]))

    assert page.context["sheet"].overnight == (row,)
    assert reverse("provider:sign_out_child", args=[child.provider.slug, child.public_id]) in page.content.decode()


def test_it_signs_a_child_out_after_midnight_on_the_day_it_came(child: Child, clock: time_machine.Traveller) -> None:
    make.make_attendance(child, TODAY, arrives=18, leaves=None)
    clock.move_to(datetime(2026, 3, 17, 6, 30, tzinfo=UTC), tick=False)

    row = attendance.sign_out_child(**{**_writer(child.provider), "today": TODAY + timedelta(days=1)}, child=child)

    assert (row.day, row.left_at) == (TODAY, datetime(2026, 3, 17, 6, 30, tzinfo=UTC))


def test_it_still_names_a_child_as_forgotten_after_a_day(child: Child, clock: time_machine.Traveller) -> None:
    row = make.make_attendance(child, TODAY, arrives=8, leaves=None)

    sheet = day_sheet(child.provider, TODAY + timedelta(days=2), NOW + timedelta(days=2))

    assert (sheet.overnight, sheet.forgotten) == ((), (row,))
