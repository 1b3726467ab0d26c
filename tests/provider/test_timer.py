from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from curriculum.models import RunWork
from provider.errors import DomainError, PeriodLocked
from provider.models import AuditEntry, Provider, Role, User, WorkEntry, WorkKind, WorkTimer
from provider.services import hours, timer
from provider.services.timer import ForgottenTimer, NoTimer
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
SIX = datetime(2026, 3, 16, 23, 0, 40, tzinfo=UTC)  # 18:00 in Chicago
HOUR = timedelta(hours=1)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def owner(provider: Provider) -> User:
    return make.make_member(provider, Role.OWNER)


def _start(provider: Provider, owner: User, **given: Any) -> WorkTimer:
    usual = {"provider": provider, "actor": owner, "today": TODAY, "now": SIX, "kind": WorkKind.CLEAN}
    return timer.start_timer(**{**usual, **given})


def _stop(provider: Provider, owner: User, after: timedelta = HOUR, **given: Any) -> WorkEntry:
    return timer.stop_timer(provider=provider, actor=owner, today=TODAY, now=SIX + after, **given)


def test_it_logs_the_time_between_two_taps(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    row = _stop(provider, owner)

    assert (row.kind, row.at_home, row.ended_at - row.started_at) == (WorkKind.CLEAN, True, HOUR)
    assert not WorkTimer.objects.exists()


def test_it_starts_once_for_two_taps(provider: Provider, owner: User) -> None:
    for key in ("one", "one", "two"):
        _start(provider, owner, submission_key=key)

    assert WorkTimer.objects.count() == 1


def test_it_refuses_a_second_kind_while_one_runs(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    with pytest.raises(DomainError):
        _start(provider, owner, kind=WorkKind.PLAN)


def test_it_starts_nothing_when_an_old_tap_arrives_after_the_stop(provider: Provider, owner: User) -> None:
    _start(provider, owner, submission_key="one")
    _stop(provider, owner)

    with pytest.raises(DomainError):
        _start(provider, owner, submission_key="one")

    assert not WorkTimer.objects.exists()


def test_it_logs_once_for_two_taps_on_stop(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    for _tap in range(2):
        _stop(provider, owner, submission_key="one")

    assert WorkEntry.objects.count() == 1


def test_it_keeps_the_timers_of_two_people_apart(provider: Provider, owner: User) -> None:
    helper = make.make_member(provider, Role.HELPER)
    _start(provider, owner)
    _start(provider, helper, kind=WorkKind.PLAN)

    _stop(provider, helper)

    assert [row.user for row in WorkTimer.objects.all()] == [owner]


def test_it_knows_no_timer_of_the_same_person_elsewhere(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    with pytest.raises(NoTimer):
        _stop(make.make_provider(), owner)


@pytest.mark.parametrize("away", [False, True])
def test_it_takes_shopping_as_away_whatever_is_ticked(provider: Provider, owner: User, away: bool) -> None:
    _start(provider, owner, kind=WorkKind.SHOP, away=away)

    assert _stop(provider, owner).at_home is False


def test_typed_shopping_is_away_too(provider: Provider) -> None:
    row = hours.log_work(
        provider=provider,
        actor=None,
        today=TODAY,
        now=SIX,
        kind=WorkKind.SHOP,
        started_at=SIX - HOUR,
        ended_at=SIX,
        at_home=True,
    )

    assert row.at_home is False


def test_it_questions_a_forgotten_timer(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    with pytest.raises(ForgottenTimer) as question:
        _stop(provider, owner, after=17 * HOUR)

    assert question.value.field == "ends"
    assert _stop(provider, owner, after=17 * HOUR, ended_at=SIX + 2 * HOUR).ended_at == datetime(
        2026, 3, 17, 1, 0, tzinfo=UTC
    )


@pytest.mark.parametrize("ended_at", [SIX - HOUR, SIX + 2 * HOUR])
def test_it_refuses_an_end_before_the_start_or_to_come(provider: Provider, owner: User, ended_at: datetime) -> None:
    _start(provider, owner)

    with pytest.raises(DomainError):
        _stop(provider, owner, ended_at=ended_at)

    assert WorkTimer.objects.count() == 1


def test_it_logs_nothing_for_less_than_a_minute(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    with pytest.raises(DomainError):
        _stop(provider, owner, after=timedelta(seconds=5))


def test_it_refuses_a_closed_year(provider: Provider, owner: User) -> None:
    _start(provider, owner)
    make.lock_year(provider, 2026)

    with pytest.raises(PeriodLocked):
        _stop(provider, owner)


def test_it_discards_and_says_so_in_the_history(provider: Provider, owner: User) -> None:
    _start(provider, owner)

    for _tap in range(2):
        timer.discard_timer(provider=provider, actor=owner, today=TODAY)

    assert (WorkTimer.objects.count(), WorkEntry.objects.count()) == (0, 0)
    assert AuditEntry.objects.filter(verb="discard").count() == 1


def test_it_notes_the_theme_run_that_the_work_was_for(provider: Provider, owner: User) -> None:
    run = make.make_run(provider)
    _start(provider, owner, run=run.public_id)

    row = _stop(provider, owner)

    assert RunWork.objects.get().run == run
    assert RunWork.objects.get().work == row


def test_it_forgets_a_run_of_another_business(provider: Provider, owner: User) -> None:
    _start(provider, owner, run=make.make_run(make.make_provider()).public_id)

    _stop(provider, owner)

    assert not RunWork.objects.exists()


def test_the_timer_survives_a_locked_phone(provider: Provider, client: Client, owner: User) -> None:
    run = make.make_run(provider, date(2026, 4, 1), date(2026, 5, 1))
    with time_machine.travel(SIX, tick=False):
        client.force_login(owner)
        client.post(reverse("provider:timer_start", args=[provider.slug]), {"kind": "prepare", "run": run.public_id})
    with time_machine.travel(SIX + HOUR, tick=False):
        client.force_login(owner)
        shown = client.get(reverse("provider:today", args=[provider.slug])).content.decode()
        client.post(reverse("provider:timer_stop", args=[provider.slug]), {"submission_key": "one"})

    assert "Preparing activities since" in shown
    assert RunWork.objects.get().work.ended_at - RunWork.objects.get().work.started_at == HOUR


def test_the_page_asks_when_a_forgotten_timer_ended(provider: Provider, client: Client, owner: User) -> None:
    _start(provider, owner)
    with time_machine.travel(SIX + 20 * HOUR, tick=False):
        client.force_login(owner)
        address = reverse("provider:timer_stop", args=[provider.slug])
        asked = client.post(address, {})
        client.post(address, {"ends_on": "2026-03-16", "ends": "19:30"})

    assert asked.status_code == 422
    assert "has run for 20 hours" in asked.content.decode()
    assert WorkEntry.objects.get().ended_at == datetime(2026, 3, 17, 0, 30, tzinfo=UTC)


@time_machine.travel(SIX + HOUR, tick=False)
@pytest.mark.parametrize("half", [{"ends": "19:00"}, {"ends_on": "2026-03-16"}, {"ends": "late", "ends_on": "soon"}])
def test_the_page_refuses_half_an_end(provider: Provider, client: Client, owner: User, half: dict[str, str]) -> None:
    _start(provider, owner)
    client.force_login(owner)

    response = client.post(reverse("provider:timer_stop", args=[provider.slug]), half)

    assert (response.status_code, WorkEntry.objects.count()) == (422, 0)


@time_machine.travel(SIX, tick=False)
@pytest.mark.parametrize("bad", [{"kind": "nap"}, {}, {"kind": "clean", "run": "nothing"}])
def test_the_page_refuses_what_cannot_be_timed(
    provider: Provider, client: Client, owner: User, bad: dict[str, str]
) -> None:
    make.make_run(provider, date(2026, 4, 1), date(2026, 5, 1))
    client.force_login(owner)

    client.post(reverse("provider:timer_start", args=[provider.slug]), bad)

    assert not WorkTimer.objects.exists()


@time_machine.travel(SIX + HOUR, tick=False)
def test_a_helpers_timer_logs_the_helpers_hours(provider: Provider, client: Client) -> None:
    helper = make.make_member(provider, Role.HELPER)
    _start(provider, helper)
    client.force_login(helper)

    client.post(reverse("provider:timer_stop", args=[provider.slug]), {})

    assert WorkEntry.objects.get().person == str(helper)
