"""When things are to be cleaned, and the tick that says they were."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curriculum.cleaning import due_on, suggestions
from curriculum.models import CleaningAct, CleaningRoutine, PutAway
from curriculum.notices import cleaning_due
from curriculum.selectors.cleaning import cleanings, due_cleanings
from curriculum.services.cleaning import add_routine, change_routine, end_routine, tick_cleaned
from curriculum.templatetags.screening import SUGGESTIONS
from provider.errors import DomainError, StaleRow
from provider.models import Role
from tests.curriculum.conftest import TODAY
from tests.factories import make_lot, make_member, make_provider, make_routine

MARCH_1, MARCH_5 = date(2025, 3, 1), date(2025, 3, 5)


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


@pytest.mark.parametrize(
    ("every_days", "last_done", "last_used", "due"),
    [
        (7, None, None, MARCH_1),
        (7, MARCH_5, None, date(2025, 3, 12)),
        (1, MARCH_5, date(2025, 3, 9), date(2025, 3, 6)),
        (0, None, None, None),
        (0, None, MARCH_5, MARCH_5),
        (0, MARCH_1, MARCH_5, MARCH_5),
        (0, MARCH_5, MARCH_5, None),
    ],
)
def test_a_routine_is_due(every_days, last_done, last_used, due):
    assert due_on(every_days, since=MARCH_1, last_done=last_done, last_used=last_used) == due


def test_negative_days_are_refused():
    with pytest.raises(ValueError, match="negative"):
        due_on(-1, since=MARCH_1, last_done=None, last_used=None)


def test_the_suggestions_know_the_acts_and_have_words():
    assert {each.act for each in suggestions().values()} <= set(CleaningAct.values)
    assert set(SUGGESTIONS) == set(suggestions())


@pytest.mark.django_db
class TestRoutines:
    def test_a_routine_that_was_never_done_is_due_at_once(self, provider, lot):
        make_routine(lot.material)

        assert [each.due_on for each in due_cleanings(provider, TODAY)] == [TODAY]

    def test_a_routine_is_due_again_when_its_days_have_passed(self, provider, lot):
        make_routine(lot.material, every_days=7, last_done_on=TODAY - timedelta(days=6))

        assert not due_cleanings(provider, TODAY)
        assert due_cleanings(provider, TODAY + timedelta(days=1))

    def test_a_thing_in_its_bin_rests(self, provider, lot, place):
        make_routine(lot.material)
        placement = place("2")
        assert due_cleanings(provider, TODAY)

        PutAway.objects.create(provider=provider, placement=placement, on=TODAY, returned=Decimal(2))

        assert [each.is_resting for each in cleanings(provider, TODAY)] == [True]

    def test_a_thing_that_comes_back_unwashed_is_cleaned_after_its_use(self, provider, lot, place):
        routine = make_routine(lot.material, every_days=0)
        placement = place("2")
        assert not due_cleanings(provider, TODAY)
        count = PutAway.objects.create(provider=provider, placement=placement, on=TODAY, returned=Decimal(2))
        assert [each.routine for each in due_cleanings(provider, TODAY)] == [routine]

        count.washed = True
        count.save()

        assert not due_cleanings(provider, TODAY)

    def test_a_count_that_was_undone_asks_for_nothing(self, provider, lot, place):
        make_routine(lot.material, every_days=0)
        PutAway.objects.create(
            provider=provider,
            placement=place("2"),
            on=TODAY,
            returned=Decimal(2),
            voided_at="2025-03-12T12:00:00Z",
        )

        assert not due_cleanings(provider, TODAY)

    def test_the_longest_due_comes_first_and_what_rests_last(self, provider, lot, place):
        resting = make_routine(make_lot(provider).material)
        PutAway.objects.create(
            provider=provider,
            placement=place("1", lot=resting.material.lots.get()),
            on=TODAY,
            returned=Decimal(1),
        )
        new = make_routine(lot.material, last_done_on=TODAY)
        old = make_routine(lot.material, last_done_on=date(2025, 1, 1))

        assert [each.routine for each in cleanings(provider, TODAY)] == [old, new, resting]

    def test_the_routines_of_another_business_are_not_ours(self, provider):
        make_routine(make_lot(make_provider()).material)

        assert cleanings(provider, TODAY) == []

    def test_a_tick_says_that_it_was_cleaned_today(self, writer, lot):
        routine = make_routine(lot.material)

        tick_cleaned(**writer, routine=routine)

        routine.refresh_from_db()
        assert routine.last_done_on == TODAY

    def test_a_tick_is_refused_once_the_routine_was_ended(self, writer, lot):
        routine = make_routine(lot.material)
        end_routine(**writer, routine=routine, version=1)

        with pytest.raises(DomainError):
            tick_cleaned(**writer, routine=routine)

    def test_a_day_to_come_is_refused(self, writer, lot):
        with pytest.raises(DomainError) as refused:
            add_routine(
                **writer, material=lot.material, act="clean", every_days=7, last_done_on=TODAY + timedelta(days=1)
            )

        assert refused.value.field == "last_done_on"

    def test_a_stale_change_is_questioned(self, writer, lot):
        routine = make_routine(lot.material)
        tick_cleaned(**writer, routine=routine)

        with pytest.raises(StaleRow):
            change_routine(**writer, routine=routine, version=1, act="clean", every_days=3)


@pytest.mark.django_db
class TestPages:
    def test_a_suggestion_fills_in_the_form(self, signed_in, url, lot):
        form = signed_in.get(url("add_routine", lot.material), {"like": "mouthed"}).context["form"]

        assert (form["act"].value(), form["every_days"].value()) == ("sanitise", 0)

    def test_a_routine_is_added_once_and_changed(self, signed_in, url, lot):
        posted = {"act": "launder", "every_days": "7", "submission_key": "k"}
        for _ in range(2):
            signed_in.post(url("add_routine", lot.material), posted)
        routine = CleaningRoutine.objects.get()

        signed_in.post(url("change_routine", routine), {"act": "clean", "every_days": "3", "version": "1"})

        routine.refresh_from_db()
        assert (routine.act, routine.every_days) == ("clean", 3)
        assert "every 3 days" in signed_in.get(url("material", lot.material)).content.decode()

    @pytest.mark.parametrize("wrong", [{"act": "polish"}, {"every_days": "-1"}, {"every_days": "often"}])
    def test_a_senseless_routine_is_asked_about(self, signed_in, url, lot, wrong):
        answer = signed_in.post(url("add_routine", lot.material), {"act": "clean", "every_days": "7", **wrong})

        assert answer.status_code == 422
        assert set(answer.context["form"].errors) == set(wrong)

    def test_a_routine_is_ended(self, signed_in, url, lot):
        routine = make_routine(lot.material)

        signed_in.post(url("end_routine", routine), {"version": "1"})

        assert signed_in.get(url("change_routine", routine)).status_code == 404

    def test_a_helper_ticks_twice_and_it_counts_once(self, client, url, provider, lot):
        client.force_login(make_member(provider, Role.HELPER))
        routine = make_routine(lot.material)
        assert "To be cleaned" in client.get(url("cleaning")).content.decode()

        for _ in range(2):
            client.post(url("tick_cleaned", routine), {"submission_key": "k"})

        routine.refresh_from_db()
        assert (routine.last_done_on, routine.version) == (TODAY, 2)

    def test_the_list_takes_the_same_number_of_queries_for_many(self, signed_in, url, provider, lot, place):
        def queries():
            with CaptureQueriesContext(connection) as captured:
                assert signed_in.get(url("cleaning")).status_code == 200
            return len(captured)

        make_routine(lot.material)
        place("1")
        few = queries()
        for _ in range(10):
            another = make_lot(provider)
            make_routine(another.material)
            place("1", lot=another)
        assert queries() == few

    def test_today_says_in_one_line_how_much_is_due(self, signed_in, url, provider, lot):
        with time_machine.travel("2025-03-10 17:00Z", tick=False):
            make_routine(lot.material)
            make_routine(lot.material, act="sanitise")

        assert [each.text for each in cleaning_due(provider, Role.HELPER, TODAY)] == ["2 things are to be cleaned."]
        assert (
            "2 things are to be cleaned."
            in signed_in.get(reverse("provider:today", args=[provider.slug])).content.decode()
        )

    def test_today_says_nothing_when_nothing_is_due(self, provider, lot):
        make_routine(lot.material, last_done_on=TODAY)

        assert list(cleaning_due(provider, Role.OWNER, TODAY)) == []

    def test_a_preparer_is_told_nothing_about_cleaning(self, provider, lot):
        make_routine(lot.material)

        assert list(cleaning_due(provider, Role.PREPARER, TODAY)) == []
