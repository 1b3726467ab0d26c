from datetime import date
from decimal import Decimal

import pytest

from curriculum.models import LearningCentre, Theme, ThemeRun
from curriculum.selectors.runs import next_free_span, run_choices, run_on, runs_around
from curriculum.services.themes import (
    RunsOverlap,
    add_centre,
    add_theme,
    change_centre,
    change_run,
    change_theme,
    plan_run,
)
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import AuditEntry
from provider.periods import DateSpan
from tests.curriculum.conftest import TODAY
from tests.factories import lock_year, make_lot, make_provider, make_run

MAY, JUNE, JULY = date(2025, 5, 1), date(2025, 6, 1), date(2025, 7, 1)


@pytest.fixture
def theme(writer):
    return add_theme(**writer, name="Harbour", hue=210)


def test_it_adds_a_theme_and_says_so_in_the_history(theme, owner):
    entry = AuditEntry.objects.get(object_public_id=theme.public_id)
    assert (entry.verb, entry.actor) == ("add", owner)


def test_it_refuses_a_second_theme_of_the_same_name_whatever_its_capitals(writer, theme):
    with pytest.raises(DomainError) as refused:
        add_theme(**writer, name="HARBOUR")
    assert refused.value.field == "name"


def test_another_business_may_use_the_same_name(theme):
    other = add_theme(provider=make_provider(), actor=None, today=TODAY, name="Harbour")
    assert other.pk != theme.pk


def test_it_adds_a_theme_once_for_two_posts_of_one_form(writer):
    first = add_theme(**writer, submission_key="k1", name="Orchard")
    assert add_theme(**writer, submission_key="k1", name="Orchard") == first
    assert Theme.objects.filter(name="Orchard").count() == 1


def test_it_questions_a_stale_change_of_a_theme(writer, theme):
    change_theme(**writer, theme=theme, version=1, name="Harbour town", hue=210)
    with pytest.raises(StaleRow):
        change_theme(**writer, theme=theme, version=1, name="Port", hue=210)


def test_it_plans_a_run(writer, theme):
    run = plan_run(**writer, theme=theme, start=MAY, end=JUNE, budget=Decimal("120.00"))
    assert run_on(writer["provider"], date(2025, 5, 31)) == run


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (date(2025, 4, 15), date(2025, 5, 2)),
        (date(2025, 5, 10), date(2025, 5, 11)),
        (date(2025, 5, 31), date(2025, 6, 20)),
        (date(2025, 4, 1), date(2025, 7, 1)),
        (MAY, JUNE),
    ],
)
def test_it_refuses_a_run_that_shares_a_day_with_another(writer, theme, start, end):
    plan_run(**writer, theme=theme, start=MAY, end=JUNE)
    with pytest.raises(RunsOverlap):
        plan_run(**writer, theme=theme, start=start, end=end)
    assert ThemeRun.objects.count() == 1


def test_it_plans_a_run_that_starts_on_the_day_after_another(writer, theme):
    plan_run(**writer, theme=theme, start=MAY, end=JUNE)
    assert plan_run(**writer, theme=theme, start=JUNE, end=JULY).pk


def test_runs_of_two_businesses_may_share_days(writer, theme):
    make_run(make_provider(), MAY, JUNE)
    assert plan_run(**writer, theme=theme, start=MAY, end=JUNE).pk


def test_it_refuses_a_run_that_ends_before_it_starts(writer, theme):
    with pytest.raises(DomainError) as refused:
        plan_run(**writer, theme=theme, start=JUNE, end=MAY)
    assert refused.value.field == "end"


def test_it_refuses_a_theme_of_another_business(writer):
    foreign = make_run(make_provider()).theme
    with pytest.raises(ForeignRow):
        plan_run(**writer, theme=foreign, start=MAY, end=JUNE)


def test_it_refuses_a_run_that_ends_in_a_closed_year(writer, provider, theme):
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        plan_run(**writer, theme=theme, start=date(2024, 12, 1), end=date(2025, 1, 1))


def test_it_plans_a_run_that_begins_in_a_closed_year_and_ends_after_it(writer, provider, theme):
    lock_year(provider, 2024)
    assert plan_run(**writer, theme=theme, start=date(2024, 12, 15), end=date(2025, 1, 15)).pk


def test_it_does_not_move_a_run_out_of_a_closed_year(writer, provider):
    run = make_run(provider, date(2024, 11, 1), date(2024, 12, 1))
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        change_run(**writer, run=run, version=1, theme=run.theme, start=MAY, end=JUNE)


def test_a_run_does_not_overlap_itself_when_it_is_changed(writer, run):
    changed = change_run(
        **writer, run=run, version=1, theme=run.theme, start=run.start, end=date(2025, 3, 29), note="Short month"
    )
    assert (changed.end, changed.note, changed.version) == (date(2025, 3, 29), "Short month", 2)


def test_it_does_not_end_a_run_before_something_in_it_came(writer, run, place, provider):
    place(lot=make_lot(provider, on=date(2025, 3, 10), quantity=Decimal(10)))
    with pytest.raises(DomainError) as refused:
        change_run(**writer, run=run, version=1, theme=run.theme, start=run.start, end=date(2025, 3, 8))
    assert refused.value.field == "end"


def test_centres_follow_one_another(writer):
    first, second = add_centre(**writer, name="Blocks"), add_centre(**writer, name="Water")
    assert (first.position, second.position) == (1, 2)


def test_it_moves_a_centre(writer):
    centre = add_centre(**writer, name="Blocks")
    change_centre(**writer, centre=centre, version=1, name="Building", target_pieces=40, position=7)
    moved = LearningCentre.objects.get()
    assert (moved.name, moved.target_pieces, moved.position) == ("Building", 40, 7)


def test_it_refuses_two_centres_of_one_name(writer):
    add_centre(**writer, name="Blocks")
    with pytest.raises(DomainError):
        add_centre(**writer, name="blocks")


def test_it_tells_current_coming_and_past_runs_apart(provider):
    old = make_run(provider, date(2024, 11, 1), date(2024, 12, 1))
    older = make_run(provider, date(2024, 10, 1), date(2024, 11, 1))
    now = make_run(provider)
    soon = make_run(provider, MAY, JUNE)
    runs = runs_around(provider, TODAY)
    assert (runs.current, runs.coming, runs.past) == (now, (soon,), ((2024, (old, older)),))


def test_it_proposes_this_month_when_nothing_is_planned(provider):
    assert next_free_span(provider, TODAY) == DateSpan.month(2025, 3)


def test_it_proposes_what_is_left_after_the_last_run(provider):
    make_run(provider, MAY, date(2025, 6, 16))
    assert next_free_span(provider, TODAY) == DateSpan(date(2025, 6, 16), JULY)


def test_it_offers_runs_of_the_own_business_only(provider, run):
    make_run(make_provider())
    assert list(run_choices(provider, TODAY)) == [run]


def test_no_run_holds_its_end(provider, run):
    assert run_on(provider, run.end) is None
