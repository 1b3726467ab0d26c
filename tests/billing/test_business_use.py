from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.business_use import (
    HoursExceedAvailable,
    RecordedHours,
    Room,
    RoomsExceedHome,
    UsualWeek,
    canada_business_use,
    us_business_use,
)

YEAR = Decimal(8760)
HOME = Decimal(2000)
areas = st.tuples(st.integers(0, 1000), st.integers(0, 900)).map(lambda pair: tuple(map(Decimal, pair)))
hours = st.decimals(0, 8700, places=2)
roundings = st.sampled_from(["published", "unrounded"])


def rooms(exclusive, regular):
    return [Room("playroom", Decimal(exclusive), "exclusive"), Room("living room", Decimal(regular), "regular")]


def us(exclusive, regular, hours_used, rounding="published"):
    return us_business_use(
        rooms(exclusive, regular),
        home_area=HOME,
        hours_used=Decimal(hours_used),
        available=YEAR,
        rounding=rounding,
    )


def canada(exclusive, regular, time, rounding="published"):
    return canada_business_use(rooms(exclusive, regular), home_area=HOME, time=time, rounding=rounding)


@given(areas, hours, roundings)
def test_a_share_in_the_united_states_lies_between_nothing_and_the_area_used(area, hours_used, rounding):
    assert 0 <= us(*area, hours_used, rounding).share <= sum(area) / HOME + Decimal("0.0002")


@given(areas, hours, st.decimals(0, 60, places=2), roundings)
def test_more_hours_never_mean_a_smaller_share(area, hours_used, more, rounding):
    assert us(*area, hours_used, rounding).share <= us(*area, hours_used + more, rounding).share


@given(areas, hours, st.integers(0, 100), roundings)
def test_more_area_never_means_a_smaller_share(area, hours_used, more, rounding):
    exclusive, regular = area
    assert (
        us(exclusive, regular, hours_used, rounding).share <= us(exclusive, regular + more, hours_used, rounding).share
    )


@given(areas, hours, st.integers(1, 366), st.integers(0, 1_000_000))
def test_a_claim_in_canada_never_exceeds_the_cost(area, hours_used, days, cents):
    cost = Decimal(cents) / 100
    time = RecordedHours(min(hours_used, Decimal(days * 24)), days, 366)
    use = canada(*area, time)
    assert (0 <= use.share <= 1, 0 <= use.claim(cost) <= cost) == (True, True)


@given(areas, st.decimals(0, 24, places=2), st.integers(0, 7), st.integers(1, 365), st.integers(0, 1_000_000))
def test_rounding_each_step_moves_a_claim_by_cents_only(area, hours_per_day, days_per_week, days, cents):
    time, cost = UsualWeek(hours_per_day, Decimal(days_per_week), days, 365), Decimal(cents) / 100
    difference = canada(*area, time).claim(cost) - canada(*area, time, "unrounded").claim(cost)
    assert abs(difference) <= Decimal("0.04")


def test_the_whole_home_all_the_time_is_no_more_than_all_of_it():
    use = us_business_use(
        [Room("playroom", Decimal("1000.5"), "exclusive"), Room("rest", Decimal("1000.5"), "regular")],
        home_area=Decimal(2001),
        hours_used=YEAR,
        available=YEAR,
    )
    assert use.share == 1


def test_the_arithmetic_is_shown_in_words_and_figures():
    steps = us(200, 1800, 3504).steps
    assert [(step.label, step.expression, step.result) for step in steps] == [
        ("Hours used of hours available", "3,504 ÷ 8,760", Decimal("0.4000")),
        ("Area only for the business", "200 ÷ 2,000", Decimal("0.1000")),
        ("Area used regularly", "1,800 ÷ 2,000", Decimal("0.9000")),
        ("Area used regularly × time", "90.00% × 40.00%", Decimal("0.3600")),
        ("Business share of the home", "10.00% + 36.00%", Decimal("0.4600")),
    ]


def test_a_home_without_a_room_in_use_has_no_share():
    use = us(0, 0, 3000)
    assert (use.share, use.claim(Decimal("100.00")), use.steps[-1].expression) == (0, Decimal("0.00"), "0.00%")


def test_part_of_the_year_reduces_exclusive_rooms_too():
    use = canada(200, 0, UsualWeek(Decimal(10), Decimal(5), 73, 365))
    assert [step.result for step in use.claim_steps(Decimal("1000.00"))] == [
        Decimal("100.00"),
        Decimal("20.00"),
        Decimal("20.00"),
    ]


def test_part_of_the_year_reduces_shared_rooms_once():
    half_of_each_day = canada(0, 1000, RecordedHours(Decimal(73 * 12), 73, 365))
    assert half_of_each_day.share == Decimal("0.05")


def test_the_canadian_claim_shows_each_multiplication():
    use = canada(100, 700, UsualWeek(Decimal(10), Decimal(5), 365, 365))
    assert [step.expression for step in use.claim_steps(Decimal("5800.00"))] == [
        "5,800.00 × 100 ÷ 2,000",
        "5,800.00 × (10 ÷ 24) × (700 ÷ 2,000)",
        "845.83 × 5 ÷ 7",
        "290.00 + 604.16",
    ]


def test_a_home_used_in_full_claims_no_cent_more_than_the_cost():
    all_day = UsualWeek(Decimal(24), Decimal(7), 365, 365)
    assert canada(1000, 1000, all_day).claim(Decimal("0.01")) == Decimal("0.01")


def test_rooms_larger_than_the_home_are_refused_with_the_difference():
    with pytest.raises(RoomsExceedHome) as refusal:
        us(1500, 600, 3000)
    assert refusal.value.difference == 100


def test_rooms_out_of_use_count_towards_the_home_too():
    with pytest.raises(RoomsExceedHome):
        us_business_use([Room("attic", HOME + 1, "none")], home_area=HOME, hours_used=Decimal(1), available=YEAR)


def test_more_hours_than_there_are_is_refused_with_the_difference():
    with pytest.raises(HoursExceedAvailable) as refusal:
        us(200, 0, 8765)
    assert refusal.value.difference == 5


@pytest.mark.parametrize(
    "time",
    [
        UsualWeek(Decimal(25), Decimal(5), 365, 365),
        UsualWeek(Decimal(10), Decimal(8), 365, 365),
        UsualWeek(Decimal(10), Decimal(5), 366, 365),
        RecordedHours(Decimal(25), 1, 365),
    ],
)
def test_more_time_than_there_is_is_refused_in_canada(time):
    with pytest.raises(HoursExceedAvailable):
        canada(0, 100, time)


@pytest.mark.parametrize("faulty", [(-1, 0, 10), (0, 10, -1)])
def test_negative_figures_are_refused(faulty):
    with pytest.raises(ValueError, match="negative"):
        us(*faulty)


def test_a_home_without_area_is_refused():
    with pytest.raises(ValueError, match="area above zero"):
        us_business_use([], home_area=Decimal(0), hours_used=Decimal(1), available=YEAR)
