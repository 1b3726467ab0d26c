from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.theme_cost import Cost, Kind, compare, run_cost
from provider.money import from_cents

costs = st.lists(
    st.builds(Cost, st.sampled_from(Kind), st.just("a cost"), st.integers(-5_000, 50_000).map(from_cents)), max_size=12
)
attendance = st.dictionaries(st.integers(1, 20), st.integers(0, 23), max_size=10)


def run_of(amount):
    return run_cost([Cost(Kind.CHARGED, "paint", Decimal(amount))])


@given(costs)
def test_the_kinds_add_up_to_the_total(some):
    result = run_cost(some)
    assert sum(result.by_kind.values()) == result.total == sum(cost.amount for cost in some)


@given(costs, st.lists(st.integers(), min_size=1, max_size=10, unique=True))
def test_the_parts_of_the_children_add_up_to_the_total(some, children):
    result = run_cost(some, enrolled=children)
    assert (list(result.per_child), sum(result.per_child.values())) == (children, result.total)


@given(costs, attendance.filter(lambda days: any(days.values())))
def test_the_parts_by_days_attended_add_up_to_the_total(some, days):
    result = run_cost(some, days_attended=days)
    assert sum(result.per_attended.values()) == result.total


def test_it_keeps_every_kind_apart():
    result = run_cost(
        [
            Cost(Kind.CHARGED, "paint", Decimal("12.40")),
            Cost(Kind.CHARGED, "paint taken back", Decimal("-2.40")),
            Cost(Kind.REUSE, "wooden blocks", Decimal("3.00")),
            Cost(Kind.WRITE_OFF, "wooden blocks", Decimal("1.50")),
        ]
    )
    assert {kind.value: str(amount) for kind, amount in result.by_kind.items()} == {
        "charged": "10.00",
        "issued": "0.00",
        "reuse": "3.00",
        "write_off": "1.50",
        "made": "0.00",
    }


def test_a_child_who_never_came_has_no_part_by_days():
    assert run_cost([], days_attended={"ana": 5, "ben": 0}).per_attended == {"ana": Decimal("0.00")}


def test_averages_are_rounded_for_show():
    result = run_cost(
        [Cost(Kind.CHARGED, "paint", Decimal("100.00"))], enrolled=["a", "b", "c"], days_attended={"a": 20, "b": 10}
    )
    assert (result.average_per_child, result.average_per_day) == (Decimal("33.33"), Decimal("3.33"))


def test_without_children_there_is_no_average():
    result = run_of("10.00")
    assert (result.average_per_child, result.average_per_day, result.per_child) == (None, None, {})


def test_a_child_listed_twice_is_refused():
    with pytest.raises(ValueError, match="twice"):
        run_cost([], enrolled=["a", "a"])


def test_negative_days_are_refused():
    with pytest.raises(ValueError, match="negative"):
        run_cost([], days_attended={"a": -1, "b": 5})


def test_runs_side_by_side_show_their_change_and_bar():
    rows = compare([("March", run_of("50.00")), ("April", run_of("80.00")), ("May", run_of("20.00"))])
    assert [(row.run, row.change, row.bar) for row in rows] == [
        ("March", None, Decimal("0.6250")),
        ("April", Decimal("30.00"), Decimal("1.0000")),
        ("May", Decimal("-60.00"), Decimal("0.2500")),
    ]


def test_runs_that_cost_nothing_have_no_bar():
    assert [row.bar for row in compare([("March", run_of("0.00")), ("April", run_of("-5.00"))])] == [0, 0]


def test_no_runs_compare_to_nothing():
    assert compare([]) == ()
