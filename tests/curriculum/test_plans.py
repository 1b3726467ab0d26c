"""Planning a run: its activities and needs, and beginning from an earlier one."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import (
    Activity,
    Keeping,
    Material,
    PlannedActivity,
    PlannedMaterial,
    ReviewMark,
    RunWork,
    ThemeRun,
    Verdict,
)
from curriculum.planning import Ages
from curriculum.selectors.plans import (
    ages_in,
    coverage_of_run,
    coverage_of_year,
    find_activities,
    frameworks_of,
    ideas,
    plan_of,
)
from curriculum.selectors.runs import room_of, run_choices, run_on, runs_around
from curriculum.selectors.themes import centres_in_order, themes_with_runs
from curriculum.services import plans
from curriculum.services.placements import place_lot
from curriculum.services.runs import void_run
from curriculum.services.themes import plan_run, retire_centre
from curriculum.services.work import log_run_work
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import AuditEntry
from tests.factories import (
    lock_year,
    make_activity,
    make_centre,
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_need,
    make_observation,
    make_own_goal,
    make_planned,
    make_provider,
    make_run,
    make_wish,
    make_work,
)

pytestmark = pytest.mark.django_db
APRIL = {"start": date(2025, 4, 1), "end": date(2025, 5, 1)}


@pytest.fixture
def planned(run, centre):
    return make_planned(run, centre, make_activity(run.provider, "P-MATH 1", main="P-SCI 3"), note="Twice")


@pytest.fixture
def need(run, centre, lot):
    return make_need(run, lot.material, centre=centre, quantity="6", used_as="bread")


def again(writer, run, **given):
    return plan_run(**writer, theme=run.theme, **APRIL, start_from=run, **given)


def test_a_new_name_makes_an_activity(writer, run, centre):
    planned = plans.plan_activity(**writer, run=run, centre=centre, name=" Sorting seeds ", note="With tongs")

    assert (planned.activity.name, planned.note) == ("Sorting seeds", "With tongs")


def test_a_known_name_is_planned_again_whatever_its_capitals(writer, run, centre):
    known = make_activity(run.provider, name="Sorting seeds")

    assert plans.plan_activity(**writer, run=run, centre=centre, name="sorting Seeds").activity == known


def test_an_activity_is_planned_in_a_centre_once(writer, planned):
    with pytest.raises(DomainError, match="planned in this centre"):
        plans.plan_activity(**writer, run=planned.run, centre=planned.centre, name=planned.activity.name)


def test_what_was_taken_out_can_be_planned_again(writer, planned):
    plans.take_out(**writer, row=planned, version=1)

    plans.plan_activity(**writer, run=planned.run, centre=planned.centre, name=planned.activity.name)

    assert len(plan_of(planned.run)[0].activities) == 1


def test_a_form_that_is_posted_twice_plans_once(writer, run, centre):
    given = {"run": run, "centre": centre, "name": "Sorting", "submission_key": "key"}

    assert plans.plan_activity(**writer, **given) == plans.plan_activity(**writer, **given)


def test_a_planned_activity_moves_to_another_centre(writer, planned):
    other = make_centre(planned.provider)

    saved = plans.change_planned(**writer, planned=planned, version=1, centre=other, note="")

    assert (saved.centre, saved.note) == (other, "")


def test_a_stale_change_of_the_plan_is_questioned(writer, planned):
    plans.change_planned(**writer, planned=planned, version=1, centre=planned.centre, note="New")

    with pytest.raises(StaleRow):
        plans.change_planned(**writer, planned=planned, version=1, centre=planned.centre, note="Newer")


def test_nothing_is_planned_in_a_closed_year(writer, run, centre):
    lock_year(run.provider, 2025)

    with pytest.raises(PeriodLocked):
        plans.plan_activity(**writer, run=run, centre=centre, name="Sorting")


def test_nothing_of_another_business_is_planned(writer, run):
    with pytest.raises(ForeignRow):
        plans.plan_activity(**writer, run=run, centre=make_centre(make_provider()), name="Sorting")


def test_a_need_names_what_she_has_or_a_new_material(writer, run, centre, lot):
    known = plans.plan_material(**writer, run=run, name=lot.material.name, quantity=Decimal(2), centre=centre)
    new = plans.plan_material(**writer, run=run, name="Seeds", quantity=Decimal(9), keeping=Keeping.CONSUMABLE)

    assert known.material == lot.material
    assert (new.material.keeping, new.centre) == (Keeping.CONSUMABLE, None)


@pytest.mark.parametrize("in_centre", [True, False])
def test_a_need_stands_on_its_list_once(writer, run, centre, lot, in_centre):
    given = {"run": run, "name": lot.material.name, "centre": centre if in_centre else None}
    plans.plan_material(**writer, **given, quantity=Decimal(2))

    with pytest.raises(DomainError, match="on this list already"):
        plans.plan_material(**writer, **given, quantity=Decimal(3))


def test_how_many_are_needed_can_be_changed(writer, need):
    saved = plans.change_need(**writer, need=need, version=1, quantity=Decimal("2.5"))

    assert (saved.quantity, saved.centre, saved.used_as) == (Decimal("2.5"), None, "")


def test_a_stale_need_is_questioned(writer, need):
    with pytest.raises(StaleRow):
        plans.change_need(**writer, need=need, version=2, quantity=Decimal(3))


def test_an_activity_says_what_it_practises(writer, provider):
    own = make_own_goal(provider)

    row = plans.add_activity(**writer, name="Sorting", main="P-SCI 3", goals=["P-MATH 1", own.code, "P-SCI 3"])

    assert {(goal.goal, goal.is_main) for goal in row.goals.all()} == {
        ("P-SCI 3", True),
        ("P-MATH 1", False),
        (own.code, False),
    }


def test_goals_are_changed_and_the_trail_says_so(writer, planned):
    plans.change_activity(**writer, activity=planned.activity, version=1, name="Sorting", goals=["P-MATH 2"])

    assert [goal.goal for goal in planned.activity.goals.all()] == ["P-MATH 2"]
    assert AuditEntry.objects.filter(changes__goals=["P-MATH 1, P-SCI 3", "P-MATH 2"]).exists()


@pytest.mark.parametrize("code", ["P-MATH 99", "own-of-somebody-else"])
def test_a_goal_that_nobody_has_is_refused(writer, code):
    make_own_goal(make_provider(), code="own-of-somebody-else")

    with pytest.raises(DomainError) as refused:
        plans.add_activity(**writer, name="Sorting", goals=[code])

    assert refused.value.field == "goals"
    assert not Activity.objects.exists()


def test_two_activities_have_two_names(writer, provider):
    make_activity(provider, name="Sorting")

    with pytest.raises(DomainError):
        plans.add_activity(**writer, name="sorting")


def test_ages_run_upwards(writer):
    with pytest.raises(DomainError) as refused:
        plans.add_activity(**writer, name="Sorting", from_months=36, to_months=24)

    assert refused.value.field == "to_months"


def test_a_goal_in_her_own_words_gets_a_code(writer):
    goal = plans.add_goal(**writer, domain="SE", title="Waits for its turn")
    saved = plans.change_goal(**writer, goal=goal, version=1, domain="Garden", title="Waters plants")

    assert saved.code.startswith("own-")
    assert (saved.domain, saved.title) == ("Garden", "Waters plants")


def test_a_stale_goal_is_questioned(writer, provider):
    with pytest.raises(StaleRow):
        plans.change_goal(**writer, goal=make_own_goal(provider), version=9, domain="Garden", title="New")


def test_the_plan_shows_main_goals_first_and_what_lies_out(run, planned, need, place):
    place("4")

    (plan,) = plan_of(run)

    assert [goal.title for goal in plan.activities[0].goals] == [
        "Compares and sorts",
        "Knows number names and the count sequence",
    ]
    assert (plan.needed, plan.placed) == (Decimal(6), Decimal(4))


def test_needs_of_no_centre_come_last(run, centre, lot):
    make_need(run, lot.material)

    assert [each.centre for each in plan_of(run)] == [centre, None]


def test_the_plan_takes_as_many_queries_for_many_activities(run, centre, planned, need):
    with CaptureQueriesContext(connection) as few:
        plan_of(run)
    for _n in range(5):
        make_planned(run, centre, make_activity(run.provider, "P-ATL 1"))
        make_need(run, make_lot(run.provider).material, centre=centre)

    with CaptureQueriesContext(connection) as many:
        plan_of(run)

    assert len(many) == len(few) <= 7


def test_a_run_begins_from_last_time_with_its_notes(writer, run, planned, need):
    ThemeRun.objects.filter(pk=run.pk).update(note="Seeds sprout in the window", budget=Decimal("45.00"))
    run.refresh_from_db()

    new = again(writer, run)

    assert (new.started_from, new.note, new.budget) == (run, "Seeds sprout in the window", Decimal("45.00"))
    (plan,) = plan_of(new)
    assert [(each.planned.activity, each.planned.note) for each in plan.activities] == [(planned.activity, "Twice")]
    assert [(each.material, each.quantity, each.used_as) for each in plan.needs] == [
        (need.material, Decimal(6), "bread")
    ]


def test_what_is_given_anew_is_not_taken_over(writer, run):
    ThemeRun.objects.filter(pk=run.pk).update(note="Old", budget=Decimal("45.00"))

    new = again(writer, ThemeRun.objects.get(), note="New", budget=Decimal("0.00"))

    assert (new.note, new.budget) == ("New", Decimal("0.00"))


def test_what_was_to_be_dropped_stays_behind(writer, run, planned, need, centre):
    kept = make_planned(run, centre, make_activity(run.provider))
    ReviewMark.objects.create(provider=run.provider, run=run, activity=planned.activity, verdict=Verdict.DROP)
    ReviewMark.objects.create(provider=run.provider, run=run, material=need.material, verdict=Verdict.DROP)
    ReviewMark.objects.create(
        provider=run.provider, run=run, activity=kept.activity, verdict=Verdict.CHANGE, note="Outside"
    )

    (plan,) = plan_of(again(writer, run))

    assert [(each.planned.activity, each.mark.note) for each in plan.activities] == [(kept.activity, "Outside")]
    assert plan.needs == ()


def test_what_was_taken_out_of_the_plan_is_not_copied(writer, run, planned, need):
    plans.take_out(**writer, row=planned, version=1)
    plans.take_out(**writer, row=need, version=1)

    assert plan_of(again(writer, run))[0].activities == ()


def test_what_stood_in_a_retired_centre_is_not_copied(writer, run, planned, need, centre):
    retire_centre(**writer, centre=centre, version=1)
    new = again(writer, run)

    assert not PlannedActivity.objects.filter(run=new).exists()
    assert not PlannedMaterial.objects.filter(run=new).exists()


def test_a_run_begins_from_one_of_another_theme(writer, run, planned):
    other = make_run(run.provider, date(2025, 1, 1), date(2025, 2, 1))

    new = plan_run(**writer, theme=other.theme, **APRIL, start_from=run)

    assert (new.theme, len(plan_of(new)[0].activities)) == (other.theme, 1)


def test_a_run_of_another_business_is_no_beginning(writer, run):
    foreign = make_run(make_provider(), date(2025, 1, 1), date(2025, 2, 1))

    with pytest.raises(ForeignRow):
        plan_run(**writer, theme=run.theme, **APRIL, start_from=foreign)


def test_a_run_planned_by_mistake_leaves_every_list(writer, run, planned):
    void_run(**writer, run=run, version=1, reason="Wrong month")

    assert run_on(run.provider, run.start) is None
    assert list(run_choices(run.provider, run.start)) == []
    assert runs_around(run.provider, run.start).current is None
    assert themes_with_runs(run.provider).get().times == 0


def test_the_days_of_a_voided_run_are_free_again(writer, run):
    void_run(**writer, run=run, version=1, reason="Wrong month")

    assert plan_run(**writer, theme=run.theme, start=run.start, end=run.end).pk


def _laid(run):
    make_lot_in = make_lot(run.provider)
    run.placements.create(provider=run.provider, lot=make_lot_in, quantity=Decimal(1))


def _worked(run):
    RunWork.objects.create(provider=run.provider, run=run, work=make_work(run.provider, run.start))


def _observed(run):
    make_observation(make_child(make_household(run.provider)), run=run)


def _charged(run):
    receipt = Receipt.objects.create(provider=run.provider, shop="Shop", bill_date=run.start, total=Decimal("1.00"))
    ReceiptLine.objects.create(
        provider=run.provider,
        receipt=receipt,
        position=1,
        description="Paper",
        amount=Decimal("1.00"),
        cost=Decimal("1.00"),
        category="supplies",
        target=Target.RUN,
        run=run,
    )


def _brought(run):
    make_wish(run, arrived_on=run.start)


@pytest.mark.parametrize(
    ("hang", "said"),
    [
        (_laid, "laid out"),
        (_worked, "hours were logged"),
        (_observed, "an observation names it"),
        (_charged, "a receipt names it"),
        (_brought, "families brought things"),
    ],
)
def test_a_run_on_which_the_books_rest_stays(writer, run, hang, said):
    hang(run)

    with pytest.raises(DomainError, match=said):
        void_run(**writer, run=run, version=1, reason="Wrong month")


@pytest.mark.parametrize("reason", ["", "  "])
def test_a_run_is_not_voided_without_a_reason(writer, run, reason):
    with pytest.raises(DomainError) as refused:
        void_run(**writer, run=run, version=1, reason=reason)

    assert refused.value.field == "reason"


def test_a_voided_run_takes_nothing_more(writer, run, centre, lot):
    void_run(**writer, run=run, version=1, reason="Wrong month")

    with pytest.raises(DomainError):
        plans.plan_activity(**writer, run=run, centre=centre, name="Sorting")
    with pytest.raises(DomainError):
        place_lot(**writer, run=run, lot=lot, quantity=Decimal(1))
    with pytest.raises(DomainError):
        again(writer, run)
    with pytest.raises(DomainError):
        log_run_work(
            **writer,
            now=make_work(run.provider, date(2025, 3, 2)).ended_at,
            run=run,
            kind="prepare",
            started_at=make_work(run.provider, date(2025, 3, 1)).started_at,
            ended_at=make_work(run.provider, date(2025, 3, 1)).ended_at,
        )


def test_a_retired_centre_stays_with_the_runs_that_used_it(writer, run, centre, place):
    place()
    retire_centre(**writer, centre=centre, version=1)
    later = make_run(run.provider, **APRIL)

    assert list(centres_in_order(run.provider)) == []
    assert [view.centre for view in room_of(run)] == [centre]
    assert room_of(later) == ()


def test_a_retired_centre_is_brought_back(writer, centre):
    retire_centre(**writer, centre=centre, version=1)
    retire_centre(**writer, centre=centre, version=2)

    assert list(centres_in_order(centre.provider)) == [centre]


def test_ages_are_those_of_the_children_who_are_there(provider, run):
    here = make_child(make_household(provider), birth_date=date(2022, 3, 20))
    make_enrolment(here)
    gone = make_child(make_household(provider), birth_date=date(2024, 3, 1))
    make_enrolment(gone, start=date(2025, 1, 1), end=date(2025, 3, 1))
    make_child(make_household(provider), birth_date=date(2024, 1, 15), is_own_child=True)

    assert sorted(ages_in(provider, run.span), key=lambda each: each.youngest) == [Ages(13, 14), Ages(35, 36)]


def test_a_child_with_two_enrolments_counts_once(provider, run):
    child = make_child(make_household(provider), birth_date=date(2022, 1, 1))
    make_enrolment(child, start=date(2025, 1, 1), end=date(2025, 3, 10))
    make_enrolment(child, start=date(2025, 3, 10))

    assert len(ages_in(provider, run.span)) == 1


def test_coverage_of_a_run_names_gaps_for_the_ages_enrolled(provider, run, planned):
    make_enrolment(make_child(make_household(provider), birth_date=date(2021, 3, 1)))

    picture = coverage_of_run(run)

    gaps = {line.subdomain.name for line in picture.coverage.gaps}
    assert picture.children == 1
    assert "Scientific inquiry" not in gaps
    assert "Writing" in gaps
    assert "Imitation, symbolic representation and play" not in gaps


def test_coverage_over_a_year_stands_run_by_run(provider, run, planned):
    later = make_run(provider, **APRIL)
    make_run(provider, date(2024, 4, 1), date(2024, 5, 1))

    picture = coverage_of_year(provider, 2025)

    assert picture.heads == ("Mar", "Apr")
    assert picture.names == (run.theme.name, later.theme.name)
    assert picture.empty == [later.theme.name]
    assert sum(line.total.total for line in picture.coverage.domains) == 2


def test_a_framework_is_chosen_by_what_is_practised_most(run, centre):
    make_planned(run, centre, make_activity(run.provider, "ON14 belonging"))

    assert coverage_of_run(run).coverage.framework.code == "on-foundations-2014"
    assert coverage_of_run(run, "elof-2015").coverage.framework.code == "elof-2015"


def test_coverage_takes_as_many_queries_for_many_activities(run, centre, planned):
    with CaptureQueriesContext(connection) as few:
        coverage_of_run(run)
    for _n in range(5):
        make_planned(run, centre, make_activity(run.provider, "P-ATL 1"))

    with CaptureQueriesContext(connection) as many:
        coverage_of_run(run)

    assert len(many) == len(few)


@pytest.mark.parametrize("word", ["tongs", "library", "compares", "P-SCI", "CC BY", "tongs library"])
def test_an_activity_is_found_by_its_words_source_and_goals(provider, word):
    found = make_activity(provider, "P-SCI 3", note="With tongs", source="Library card 12", licence="CC BY 4.0")
    make_activity(provider, "P-ATL 1")

    assert list(find_activities(provider, word)) == [found]


def test_an_activity_keeps_its_runs_and_verdicts(provider, run, planned):
    mark = ReviewMark.objects.create(provider=provider, run=run, activity=planned.activity, verdict=Verdict.KEEP)

    (idea,) = ideas(provider, find_activities(provider))

    assert idea.past == [(planned, mark)]


def test_her_own_goals_are_hers_alone(provider):
    make_own_goal(make_provider())

    assert all(each.edition for each in frameworks_of(provider))


def test_a_need_makes_no_second_material_of_the_same_name(writer, run, lot):
    plans.plan_material(**writer, run=run, name=lot.material.name.upper(), quantity=Decimal(1))

    assert Material.objects.count() == 1
