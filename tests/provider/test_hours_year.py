from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from billing.selectors.home_share import share_for
from provider.models import Child, Provider, Role, WorkEntry, WorkKind
from provider.selectors.hours import HoursLine, work_year
from tests import factories as make

pytestmark = pytest.mark.django_db

DAY = date(2025, 3, 10)
AFTER = date(2026, 2, 1)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    return make.make_child(make.make_household(provider))


def _kinds(line: HoursLine) -> dict[WorkKind, Decimal]:
    return {each.kind: each.hours for each in line.kinds}


def _work(provider: Provider, start: datetime, end: datetime) -> WorkEntry:
    return WorkEntry.objects.create(provider=provider, kind=WorkKind.CLEAN, started_at=start, ended_at=end)


def test_it_counts_a_minute_once_whoever_worked(provider: Provider, child: Child) -> None:
    make.make_attendance(child, DAY, 8, 17)
    make.make_work(provider, DAY, 16, 19)
    make.make_work(provider, DAY, 18, 20, kind=WorkKind.CLEAN, person="Tova Quill")

    march = work_year(provider, 2025).months[2]

    assert (march.care, march.in_home, march.around) == (Decimal("9.00"), Decimal("12.00"), Decimal("3.00"))
    assert _kinds(march) == {WorkKind.PREPARE: Decimal("3.00"), WorkKind.CLEAN: Decimal("2.00")}


def test_it_shows_hours_away_apart_and_never_counts_shopping(provider: Provider) -> None:
    make.make_work(provider, DAY, 9, 11, kind=WorkKind.TRAINING, at_home=False)
    make.make_work(provider, DAY, 12, 15, kind=WorkKind.SHOP, at_home=True)

    year = work_year(provider, 2025)

    assert (year.total.in_home, year.total.away, year.kinds) == (Decimal("0.00"), Decimal("5.00"), ())


def test_it_leaves_out_own_children_open_stays_and_voided_rows(provider: Provider, child: Child) -> None:
    make.make_attendance(make.make_child(child.household, is_own_child=True), DAY, 8, 17)
    make.make_attendance(child, DAY, 8, None)
    make.make_work(provider, DAY, voided_at=datetime(2025, 3, 11, tzinfo=UTC))

    assert work_year(provider, 2025).total.in_home == Decimal("0.00")


def test_the_night_the_clocks_change_has_its_real_hours(provider: Provider) -> None:
    # Midnight to six in Chicago: five hours on 9 March, seven on 2 November 2025.
    _work(provider, datetime(2025, 3, 9, 6, tzinfo=UTC), datetime(2025, 3, 9, 11, tzinfo=UTC))
    _work(provider, datetime(2025, 11, 2, 5, tzinfo=UTC), datetime(2025, 11, 2, 12, tzinfo=UTC))

    months = work_year(provider, 2025).months

    assert (months[2].in_home, months[10].in_home) == (Decimal("5.00"), Decimal("7.00"))


def test_it_counts_the_leap_day(provider: Provider) -> None:
    make.make_work(provider, date(2024, 2, 29), 18, 20)

    assert work_year(provider, 2024).months[1].in_home == Decimal("2.00")


def test_it_cuts_at_local_midnight_of_the_new_year_and_the_month(provider: Provider) -> None:
    _work(provider, datetime(2025, 1, 1, 5, tzinfo=UTC), datetime(2025, 1, 1, 8, tzinfo=UTC))  # from 23:00
    _work(provider, datetime(2025, 2, 1, 5, tzinfo=UTC), datetime(2025, 2, 1, 7, tzinfo=UTC))

    before, year = work_year(provider, 2024), work_year(provider, 2025)

    assert before.total.in_home == Decimal("1.00")
    assert [line.in_home for line in year.months[:2]] == [Decimal("3.00"), Decimal("1.00")]


def test_it_rounds_the_year_once_on_its_minutes(provider: Provider) -> None:
    for month in (1, 2, 3):
        _work(provider, datetime(2025, month, 5, 18, tzinfo=UTC), datetime(2025, month, 5, 18, 20, tzinfo=UTC))

    year = work_year(provider, 2025)

    assert (year.months[0].in_home, year.total.in_home) == (Decimal("0.33"), Decimal("1.00"))


def test_its_total_is_what_the_share_of_the_home_takes(provider: Provider, child: Child) -> None:
    make.make_room(provider)
    make.make_attendance(child, DAY, 8, 17)
    make.make_work(provider, DAY, 16, 19)
    make.make_work(provider, DAY, 19, 22, kind=WorkKind.SHOP, at_home=True)

    used = share_for(provider, 2025, AFTER).hours

    assert used is not None
    assert used.total == work_year(provider, 2025).total.in_home == Decimal("11.00")


@pytest.mark.parametrize("days", [1, 20])
def test_it_reads_a_year_in_two_queries(
    provider: Provider, child: Child, days: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for day in range(1, days + 1):
        make.make_attendance(child, date(2025, 3, day))
        make.make_work(provider, date(2025, 3, day))

    with django_assert_num_queries(2):
        work_year(provider, 2025)


@time_machine.travel(datetime(2026, 2, 1, 18, tzinfo=UTC), tick=False)
@pytest.mark.parametrize(("role", "sees"), [(Role.OWNER, True), (Role.PREPARER, True), (Role.HELPER, False)])
def test_only_who_sees_the_books_sees_the_share(
    provider: Provider, child: Child, client: Client, role: Role, sees: bool
) -> None:
    make.make_attendance(child, DAY, 8, 17)
    client.force_login(make.make_member(provider, role))

    page = client.get(reverse("provider:hours_year", args=[provider.slug, 2025])).content.decode()

    assert "<svg" in page
    assert (reverse("billing:year_home", args=[provider.slug, 2025]) in page) is sees


@time_machine.travel(datetime(2026, 2, 1, 18, tzinfo=UTC), tick=False)
@pytest.mark.parametrize("year", [2023, 2027, 9999])
def test_it_knows_no_year_in_which_the_business_did_not_run(provider: Provider, client: Client, year: int) -> None:
    client.force_login(make.make_member(provider, Role.OWNER))

    assert client.get(reverse("provider:hours_year", args=[provider.slug, year])).status_code == 404


@time_machine.travel(datetime(2026, 2, 1, 18, tzinfo=UTC), tick=False)
def test_the_share_comes_as_a_fragment_or_a_page(provider: Provider, child: Child, client: Client) -> None:
    make.make_room(provider)
    make.make_attendance(child, DAY, 8, 17)
    client.force_login(make.make_member(provider, Role.PREPARER))
    address = reverse("billing:year_home", args=[provider.slug, 2025])

    fragment = client.get(address, headers={"HX-Request": "true"}).content.decode()
    page = client.get(address).content.decode()

    assert ("<html" in fragment, "<html" in page) == (False, True)
    assert "9 ÷ 8,760" in fragment
