from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoAssertNumQueries

from provider.models import (
    Attendance,
    CareNeed,
    CareNeedKind,
    Child,
    Collector,
    EmergencyContact,
    Guardian,
    Provider,
    Role,
)
from provider.periods import DateSpan
from provider.selectors.sheets import collectors_of, here_now, last_collector, sign_in_sheet, trail_of
from provider.services import attendance
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
NOW = datetime(2026, 3, 16, 15, 30, tzinfo=UTC)
MARCH = DateSpan.month(2026, 3)
# Session, login, membership, theme, closures and opening hours of the strip; then the grid (2) and the sheet (3).
QUERIES_OF_BOTH_PAGES = 17


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    child = make.make_child(make.make_household(provider), name="Ada Lind")
    make.make_enrolment(child)
    return child


def _stay(child: Child, day: date, arrives: datetime, leaves: datetime | None, **fields: str) -> Attendance:
    return Attendance.objects.create(
        provider=child.provider, child=child, day=day, arrived_at=arrives, left_at=leaves, **fields
    )


@pytest.mark.parametrize("count", [12, 24])
def test_it_reads_the_month_sheet_in_the_same_three_queries_for_any_number_of_children(
    provider: Provider, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _n in range(count):
        each = make.make_child(make.make_household(provider))
        make.make_enrolment(each)
        for day in range(2, 7):
            make.make_attendance(each, date(2026, 3, day))

    with django_assert_num_queries(3):
        sheet = sign_in_sheet(provider, MARCH)

    assert (len(sheet.children), sheet.child_days, sheet.hours) == (count, 5 * count, Decimal("45.00") * count)


@pytest.mark.parametrize("count", [12, 24])
def test_it_reads_the_month_page_in_the_same_queries_for_any_number_of_children(
    client: Client, provider: Provider, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))
    for _n in range(count):
        each = make.make_child(make.make_household(provider))
        make.make_enrolment(each)
        make.make_attendance(each, date(2026, 3, 2))
    addresses = [
        reverse("provider:attendance_month", args=[provider.slug, 2026, 3]),
        reverse("provider:sheet_month", args=[provider.slug, 2026, 3]),
    ]

    with django_assert_num_queries(QUERIES_OF_BOTH_PAGES):
        statuses = [client.get(address).status_code for address in addresses]

    assert statuses == [200, 200]


def test_it_totals_days_and_hours_rounded_once(child: Child) -> None:
    for day in (2, 3, 4):
        at = datetime(2026, 3, day, 14, 0, tzinfo=UTC)
        _stay(child, date(2026, 3, day), at, at + timedelta(minutes=20))

    sheet = sign_in_sheet(child.provider, MARCH)

    assert (sheet.children[0].days, sheet.children[0].hours) == (3, Decimal("1.00"))


def test_it_counts_two_stays_of_a_day_as_one_day(child: Child) -> None:
    for hour in (13, 20):
        at = datetime(2026, 3, 16, hour, 0, tzinfo=UTC)
        _stay(child, TODAY, at, at + timedelta(hours=1))

    sheet = sign_in_sheet(child.provider, DateSpan(TODAY, TODAY + timedelta(days=1)))

    assert (sheet.child_days, sheet.hours) == (1, Decimal("2.00"))


def test_it_counts_the_true_hours_of_a_night_with_a_clock_change(child: Child) -> None:
    # 22:00 to 7:00 in Chicago, while the clock goes from 2:00 to 3:00: eight hours.
    _stay(child, date(2026, 3, 7), datetime(2026, 3, 8, 4, 0, tzinfo=UTC), datetime(2026, 3, 8, 12, 0, tzinfo=UTC))

    line = sign_in_sheet(child.provider, MARCH).children[0].lines[0]

    assert (line.hours, line.next_day) == (Decimal("8.00"), True)


def test_it_puts_a_stay_over_the_end_of_the_month_on_the_month_it_began_in(child: Child) -> None:
    _stay(child, date(2028, 2, 29), datetime(2028, 3, 1, 4, 0, tzinfo=UTC), datetime(2028, 3, 1, 8, 0, tzinfo=UTC))

    days = [sign_in_sheet(child.provider, DateSpan.month(2028, month)).child_days for month in (2, 3)]

    assert days == [1, 0]


def test_it_marks_what_was_corrected(child: Child) -> None:
    row = make.make_attendance(child, date(2026, 3, 13))
    attendance.correct_attendance(
        provider=child.provider,
        actor=None,
        today=TODAY,
        now=NOW,
        attendance=row,
        version=1,
        reason="misread",
        arrived_at=datetime(2026, 3, 13, 14, 0, tzinfo=UTC),
        left_at=row.left_at,
    )

    assert [line.corrected for line in sign_in_sheet(child.provider, MARCH).children[0].lines] == [True]


def test_it_prints_times_and_signatures_as_a_pdf(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider, Role.HELPER))
    _stay(
        child,
        date(2026, 3, 13),
        datetime(2026, 3, 13, 13, 0, tzinfo=UTC),
        datetime(2026, 3, 13, 22, 0, tzinfo=UTC),
        brought_by="Mara Lind",
        collected_by="Jon Lind",
    )

    response = client.get(reverse("provider:sheet_month_pdf", args=[child.provider.slug, 2026, 3]))

    text = PdfReader(BytesIO(response.content)).pages[0].extract_text()
    assert [
        words for words in ("Ada Lind", "Mara Lind", "Jon Lind", "8 a.m.", "5 p.m.", "9.00") if words not in text
    ] == []
    assert response.headers["Content-Disposition"] == 'inline; filename="sign-in-2026-03.pdf"'


def test_it_prints_the_day_sheet(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider, Role.HELPER))
    make.make_attendance(child, date(2026, 3, 13))
    address = reverse("provider:sheet_day_pdf", args=[child.provider.slug, 2026, 3, 13])

    response = client.get(address)

    assert "Ada Lind" in PdfReader(BytesIO(response.content)).pages[0].extract_text()


# --- Here now --------------------------------------------------------------------------------------------------------


@pytest.fixture
def here(child: Child) -> Child:
    make.make_guardian(child.household, name="Mara Lind", phone="555-0101")
    EmergencyContact.objects.create(provider=child.provider, child=child, name="Olga Berg", phone="555-0102")
    CareNeed.objects.create(
        provider=child.provider, child=child, kind=CareNeedKind.ALLERGY, what="Nuts", start=date(2026, 1, 1)
    )
    make.make_attendance(child, TODAY, leaves=None)
    return child


def test_it_lists_everybody_here_with_telephones_and_needs(client: Client, here: Child) -> None:
    client.force_login(make.make_member(here.provider, Role.HELPER))

    page = client.get(reverse("provider:present", args=[here.provider.slug])).content.decode()

    assert [words in page for words in ("Ada Lind", "555-0101", "555-0102", "Nuts")] == [True] * 4


def test_it_lists_nobody_who_has_left(child: Child) -> None:
    make.make_attendance(child, TODAY)

    assert here_now(child.provider, TODAY) == []


def test_it_lists_whoever_is_here_since_yesterday(child: Child) -> None:
    make.make_attendance(child, TODAY - timedelta(days=1), leaves=None)

    assert [each.child for each in here_now(child.provider, TODAY)] == [child]


def test_it_leaves_out_needs_that_are_over(here: Child) -> None:
    CareNeed.objects.update(end=date(2026, 2, 1))

    assert here_now(here.provider, TODAY)[0].needs == ()


def test_it_lists_everybody_here_in_four_queries(
    provider: Provider, here: Child, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _n in range(6):
        make.make_attendance(make.make_child(make.make_household(provider)), TODAY, leaves=None)

    with django_assert_num_queries(4):
        present = here_now(provider, TODAY)

    assert len(present) == 7


# --- Who collects ----------------------------------------------------------------------------------------------------


def _collector(child: Child, start: date, end: date | None = None) -> Collector:
    return Collector.objects.create(provider=child.provider, child=child, name="Olga Berg", start=start, end=end)


def test_it_offers_guardians_and_who_is_listed_that_day(child: Child) -> None:
    guardian = make.make_guardian(child.household)
    listed = _collector(child, date(2026, 3, 1))
    _collector(child, date(2026, 1, 1), TODAY)
    _collector(child, TODAY + timedelta(days=1))

    assert collectors_of(child, TODAY) == ([guardian], [listed])


def test_it_knows_who_collected_last(child: Child) -> None:
    for day, name in ((12, "Mara Lind"), (13, "Jon Lind")):
        row = make.make_attendance(child, date(2026, 3, day))
        row.collected_by = name
        row.save()

    assert last_collector(child) == "Jon Lind"


def _sign_out(client: Client, child: Child, **typed: str) -> int:
    client.force_login(make.make_member(child.provider, Role.HELPER))
    address = reverse("provider:sign_out_child", args=[child.provider.slug, child.public_id])
    return client.post(address, {"submission_key": "form", **typed}).status_code


@pytest.fixture
def signed_in(child: Child) -> Child:
    now = datetime.now(UTC)
    today = now.astimezone(child.provider.zone).date()
    attendance.sign_in_child(provider=child.provider, actor=None, today=today, now=now, child=child)
    return child


def test_it_signs_out_with_a_guardian_in_one_tap(client: Client, signed_in: Child) -> None:
    guardian = make.make_guardian(signed_in.household, name="Mara Lind")

    _sign_out(client, signed_in, collector=guardian.public_id)

    assert Attendance.objects.get().collected_by == "Mara Lind"


def test_it_wants_a_note_for_somebody_who_is_not_listed(client: Client, signed_in: Child) -> None:
    statuses = [
        _sign_out(client, signed_in, collector="other", other="A neighbour"),
        _sign_out(client, signed_in, collector="other", other="A neighbour", note="Mara rang at four"),
    ]

    row = Attendance.objects.get()
    assert statuses == [422, 302]
    assert (row.collected_by, row.note) == ("A neighbour", "Mara rang at four")


def test_it_hands_a_child_to_nobody_of_another_family(client: Client, signed_in: Child) -> None:
    stranger = make.make_guardian(make.make_household(signed_in.provider))

    status = _sign_out(client, signed_in, collector=stranger.public_id)

    assert status == 422
    assert Attendance.objects.get().left_at is None


@pytest.mark.parametrize("who", ["guardian", "listed"])
def test_it_refuses_a_collector_who_may_not_in_the_service_too(child: Child, who: str) -> None:
    make.make_attendance(child, TODAY, leaves=None)
    person: Guardian | Collector = (
        make.make_guardian(make.make_household(child.provider))
        if who == "guardian"
        else _collector(child, date(2026, 1, 1), date(2026, 2, 1))
    )

    with pytest.raises(attendance.NotListed):
        attendance.sign_out_child(
            provider=child.provider, actor=None, today=TODAY, now=NOW, child=child, collector=person
        )


# --- History ---------------------------------------------------------------------------------------------------------


def test_it_tells_what_a_correction_changed_in_local_time(client: Client, child: Child) -> None:
    row = make.make_attendance(child, date(2026, 3, 13))
    attendance.correct_attendance(
        provider=child.provider,
        actor=make.make_member(child.provider),
        today=TODAY,
        now=NOW,
        attendance=row,
        version=1,
        reason="misread",
        arrived_at=datetime(2026, 3, 13, 14, 0, tzinfo=UTC),
        left_at=row.left_at,
    )

    act = trail_of(row, child.provider)[0]

    assert "misread" in act.what
    assert [(change.before, change.after) for change in act.changes] == [("March 13, 8 a.m.", "March 13, 9 a.m.")]
