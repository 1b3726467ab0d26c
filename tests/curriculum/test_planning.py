"""What a plan practises, counted by hand."""

import pytest

from curriculum.planning import Ages, Practised, Tally, coverage, goals_for
from curriculum.skills import Domain, Framework, Goal, Subdomain

BLOCKS, BOOKS = 1, 2
COUNTS = Goal("M 1", "Counts", 36, 60)
SORTS = Goal("M 2", "Sorts", 0, 36)
TELLS = Goal("L 1", "Tells", 36, 60)
FRAMEWORK = Framework(
    "f",
    "F",
    "1",
    "P",
    (),
    "S",
    "L",
    "published",
    (
        Domain("M", "Number", (Subdomain("M.a", "Counting", "M", (COUNTS,)), Subdomain("M.b", "Sets", "M", (SORTS,)))),
        Domain("L", "Language", (Subdomain("L.a", "Stories", "L", (TELLS,)),)),
    ),
)
THREE_TO_FOUR = [Ages(36, 48)]


def covered(*practised, ages=THREE_TO_FOUR):
    return coverage(FRAMEWORK, (BLOCKS, BOOKS), practised, ages)


def test_main_and_other_goals_are_told_apart():
    found = covered(Practised(BLOCKS, "M 1", is_main=True), Practised(BLOCKS, "M 1"), Practised(BOOKS, "M 1"))

    assert found.domains[0].tallies == (Tally(1, 1), Tally(0, 1))
    assert found.domains[0].total == Tally(1, 2)


def test_two_activities_that_practise_the_same_count_twice():
    assert covered(Practised(BLOCKS, "M 1"), Practised(BLOCKS, "M 1")).subdomains[0].total == Tally(0, 2)


def test_a_gap_is_a_sub_domain_that_nothing_practises():
    assert [line.subdomain.name for line in covered(Practised(BLOCKS, "M 1")).gaps] == ["Stories"]


def test_goals_for_other_ages_are_no_gap():
    assert [line.subdomain.name for line in covered().subdomains] == ["Counting", "Stories"]
    assert covered().missing == (COUNTS, TELLS)


def test_a_goal_of_another_age_does_not_count():
    assert covered(Practised(BLOCKS, "M 2")).domains[0].total == Tally()


def test_without_a_known_age_every_goal_counts():
    assert covered(ages=[]).missing == (COUNTS, SORTS, TELLS)


def test_a_centre_without_any_goal_is_named():
    assert covered(Practised(BLOCKS, "M 1")).empty_columns == (BOOKS,)


def test_what_lies_in_no_column_fills_no_gap():
    found = covered(Practised(99, "L 1"))

    assert found.missing == (COUNTS, TELLS)


def test_a_domain_is_the_sum_of_its_sub_domains():
    found = covered(Practised(BLOCKS, "M 1"), Practised(BLOCKS, "M 2", is_main=True), ages=[Ages(20, 40)])

    assert found.domains[0].tallies[0] == Tally(1, 1)


@pytest.mark.parametrize(
    ("ages", "codes"),
    [
        (Ages(35, 35), ["M 2"]),
        (Ages(36, 36), ["M 1", "L 1"]),
        (Ages(35, 36), ["M 1", "M 2", "L 1"]),
        (Ages(59, 59), ["M 1", "L 1"]),
        (Ages(60, 61), []),
    ],
)
def test_a_goal_holds_from_its_first_month_to_before_its_last(ages, codes):
    assert [goal.code for goal in goals_for(FRAMEWORK.goals, [ages])] == codes


def test_a_goal_without_an_upper_age_has_none():
    assert goals_for([Goal("x", "X", 12)], [Ages(200, 212)]) == (Goal("x", "X", 12),)


def test_nothing_planned_leaves_every_column_empty():
    assert covered().empty_columns == (BLOCKS, BOOKS)
