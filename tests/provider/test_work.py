from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.models import Provider, Role, WorkEntry, WorkKind
from provider.periods import DateSpan
from provider.selectors.hours import work_month
from provider.services import hours
from provider.services.hours import WorkInput
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
NOW = datetime(2026, 3, 16, 23, 0, tzinfo=UTC)
MARCH = DateSpan.month(2026, 3)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _log(provider: Provider, begins: datetime, ends: datetime, **changes: Any) -> WorkEntry:
    return hours.log_work(
        provider=provider,
        actor=None,
        today=TODAY,
        now=NOW,
        started_at=begins,
        ended_at=ends,
        **{"kind": WorkKind.CLEAN, **changes},
    )


def _at(hour: int, minute: int = 0, day: int = 13) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("begins", "ends"),
    [
        (_at(18), _at(18)),
        (_at(18), _at(17)),
        (_at(22, day=16), _at(23, 30, day=16)),
        (_at(8, day=10), _at(9, day=11)),
    ],
)
def test_it_refuses_times_that_cannot_be(provider: Provider, begins: datetime, ends: datetime) -> None:
    with pytest.raises(DomainError) as refusal:
        _log(provider, begins, ends)

    assert refusal.value.field == "ends"


def test_it_logs_once_for_a_double_click(provider: Provider) -> None:
    for _click in range(2):
        _log(provider, _at(18), _at(19), submission_key="one")

    assert WorkEntry.objects.count() == 1


def test_it_refuses_the_same_stretch_entered_twice(provider: Provider) -> None:
    _log(provider, _at(18), _at(19))

    with pytest.raises(DomainError):
        _log(provider, _at(18), _at(19))


def test_it_keeps_the_same_stretch_of_another_person(provider: Provider) -> None:
    _log(provider, _at(18), _at(19))

    _log(provider, _at(18), _at(19), person="Bram Ives")

    assert work_month(provider, MARCH).in_home == Decimal("1.00")


def test_it_refuses_work_in_a_closed_year(provider: Provider) -> None:
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        _log(provider, datetime(2025, 6, 1, 18, tzinfo=UTC), datetime(2025, 6, 1, 19, tzinfo=UTC))


def test_it_judges_a_closed_year_by_the_local_day(provider: Provider) -> None:
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        # Still New Year's Eve in Chicago.
        _log(provider, datetime(2026, 1, 1, 3, tzinfo=UTC), datetime(2026, 1, 1, 4, tzinfo=UTC))


def test_it_merges_work_with_the_time_children_were_here(provider: Provider) -> None:
    child = make.make_child(make.make_household(provider))
    make.make_attendance(child, date(2026, 3, 13), arrives=8, leaves=17)  # to 22:00 UTC
    _log(provider, _at(21), _at(23))
    _log(provider, _at(12, day=12), _at(13, day=12), kind=WorkKind.SHOP, at_home=False)

    work = work_month(provider, MARCH)

    assert (work.with_children, work.around, work.in_home, work.away) == tuple(
        Decimal(each) for each in ("9.00", "1.00", "10.00", "1.00")
    )
    assert [kind.hours for kind in work.kinds] == [Decimal("2.00"), Decimal("1.00")]


def test_it_puts_late_work_into_the_local_month(provider: Provider) -> None:
    # 23:30 on 28 February in Chicago.
    _log(provider, datetime(2026, 3, 1, 5, 30, tzinfo=UTC), datetime(2026, 3, 1, 5, 45, tzinfo=UTC))

    assert work_month(provider, MARCH).entries == ()
    assert len(work_month(provider, DateSpan.month(2026, 2)).entries) == 1


def test_it_reads_a_month_in_constant_queries(
    provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for day in range(2, 12):
        _log(provider, _at(18, day=day), _at(19, day=day))

    with django_assert_num_queries(2):
        work = work_month(provider, MARCH)

    assert work.in_home == Decimal("10.00")


def test_it_logs_many_entries_or_none(provider: Provider) -> None:
    entries = [WorkInput(WorkKind.PLAN, _at(18), _at(19)), WorkInput(WorkKind.PLAN, _at(20), _at(19))]

    with pytest.raises(DomainError):
        hours.log_work_many(provider=provider, actor=None, today=TODAY, now=NOW, entries=entries)

    assert not WorkEntry.objects.exists()


def test_it_questions_a_stale_change(provider: Provider) -> None:
    row = _log(provider, _at(18), _at(19))
    given: dict[str, Any] = {
        "provider": provider,
        "actor": None,
        "today": TODAY,
        "now": NOW,
        "work": row,
        "version": 1,
        "kind": WorkKind.COOK,
        "started_at": _at(18),
        "at_home": True,
    }
    hours.change_work(**given, ended_at=_at(20))

    with pytest.raises(StaleRow):
        hours.change_work(**given, ended_at=_at(21))


def test_it_takes_an_entry_out_of_the_sum(provider: Provider) -> None:
    row = _log(provider, _at(18), _at(19))

    hours.void_work(provider=provider, actor=None, today=TODAY, work=row, reason="was at the market")

    assert work_month(provider, MARCH).in_home == Decimal("0.00")


def test_it_logs_a_helpers_hours_under_the_helpers_name(client: Client, provider: Provider) -> None:
    helper = make.make_member(provider, Role.HELPER)
    client.force_login(helper)

    form = client.get(reverse("provider:work_add", args=[provider.slug])).context["form"]

    assert form.initial["person"] == str(helper)


def test_it_logs_from_the_page_in_local_time(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    typed = {"kind": "clean", "day": "2025-01-06", "begins": "18:00", "ends": "18:45", "place": "home"}

    response = client.post(reverse("provider:work_add", args=[provider.slug]), typed)

    assert response.headers["Location"] == reverse("provider:hours_month", args=[provider.slug, 2025, 1])
    assert WorkEntry.objects.get().started_at == datetime(2025, 1, 7, 0, 0, tzinfo=UTC)
