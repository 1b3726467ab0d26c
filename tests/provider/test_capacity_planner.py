"""The limit over plans and attendance: which children are counted when, and what the planner says of a year."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from provider.models import Closure, Enrolment, PatternDay, Provider
from provider.periods import DateSpan, WeekSlot
from provider.selectors.capacity import (
    capacity_settings,
    load_plan,
    numbers_over_day,
    recorded_stays,
    rule_of,
)
from provider.selectors.planner import Wanted, clashes_of_child, forecast, year_from
from tests import factories as make

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 3, 16)
WEEK = tuple(WeekSlot(weekday, time(8), time(17)) for weekday in range(5))
BIRTH = date(2023, 1, 10)


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _children(provider: Provider, count: int, **fields) -> list[Enrolment]:
    return [make.make_enrolment(make.make_child(make.make_household(provider), **fields)) for _n in range(count)]


def _planned(provider: Provider, day: date = MONDAY):
    plan = load_plan(provider, DateSpan.day(day))
    return numbers_over_day(plan.settings.on(day), plan.stays_on(day), plan.zone)


def _recorded(provider: Provider, now: datetime, day: date = MONDAY):
    plan = load_plan(provider, DateSpan.day(day))
    return numbers_over_day(plan.settings.on(day), recorded_stays(provider, plan, day, now), plan.zone)


def _times(numbers) -> list[tuple[str, str, int]]:
    return [(f"{level.start:%H:%M}", f"{level.end:%H:%M}", level.children) for level in numbers.levels]


def _chicago(hour: int, minute: int = 0, day: date = MONDAY) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC) + timedelta(hours=5)


# Plans


def test_it_counts_the_planned_children_over_the_day(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    _children(provider, 2)
    third = _children(provider, 1)[0]
    PatternDay.objects.filter(enrolment=third).update(arrives=time(10), leaves=time(12, 30))

    numbers = _planned(provider)

    assert _times(numbers) == [("08:00", "10:00", 2), ("10:00", "12:30", 3), ("12:30", "17:00", 2)]
    assert [level.start.hour for level in numbers.over] == [10]
    assert numbers.limit == 2


def test_it_plans_nobody_on_a_closed_day(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    _children(provider, 3)
    Closure.objects.create(
        provider=provider, start=MONDAY, end=MONDAY + timedelta(days=1), kind="time_off", reason="Away"
    )

    assert _planned(provider).levels == ()


def test_it_counts_no_voided_closure(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    _children(provider, 1)
    Closure.objects.create(
        provider=provider,
        start=MONDAY,
        end=MONDAY + timedelta(days=1),
        kind="time_off",
        reason="Away",
        voided_at=datetime(2026, 1, 1, tzinfo=UTC),
    )

    assert _times(_planned(provider)) == [("08:00", "17:00", 1)]


def test_it_takes_an_own_child_without_a_place_to_be_home_while_the_house_is_open(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    make.make_child(make.make_household(provider), is_own_child=True)

    assert _times(_planned(provider)) == [("07:30", "17:30", 1)]


def test_it_takes_an_own_child_with_a_place_as_its_place_says(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    _children(provider, 1, is_own_child=True)

    assert _times(_planned(provider)) == [("08:00", "17:00", 1)]


def test_it_counts_no_own_child_past_the_age_of_the_rule(provider: Provider) -> None:
    make.make_capacity(provider, most=2, own_under_months=48)
    make.make_child(make.make_household(provider), is_own_child=True, birth_date=date(2022, 3, 17))
    make.make_child(make.make_household(provider), is_own_child=True, birth_date=date(2022, 3, 16))

    assert [count for *_times, count in _times(_planned(provider))] == [1]


def test_it_comes_on_odd_weeks_only(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    place = _children(provider, 1)[0]
    PatternDay.objects.filter(enrolment=place).update(cycle="odd")

    assert _planned(provider, MONDAY).levels == ()  # week 12
    assert len(_planned(provider, MONDAY + timedelta(days=7)).levels) == 1


# The rule in force


def test_it_knows_no_limit_before_the_first_choice(provider: Provider) -> None:
    make.make_capacity(provider, most=2, start=date(2026, 4, 1))

    settings = capacity_settings(provider)

    assert settings.on(date(2026, 3, 31)) is None
    assert settings.on(date(2026, 4, 1)).rule.most == 2


def test_it_follows_the_choice_of_each_day(provider: Provider) -> None:
    make.make_capacity(provider, most=2)
    make.make_capacity(provider, most=5, start=date(2026, 4, 1), adults=2)

    settings = capacity_settings(provider)

    assert [settings.on(day).rule.most for day in (date(2026, 3, 31), date(2026, 4, 1))] == [2, 5]
    assert settings.on(date(2026, 4, 1)).adults == 2


def test_it_puts_the_lower_number_of_the_licence_into_the_rule(provider: Provider) -> None:
    row = make.make_capacity(provider, most=8, licence_limit=6, rule="us_mn_a", custom={})

    assert rule_of(row, MONDAY).most == 6


def test_it_knows_no_rule_that_no_file_has(provider: Provider) -> None:
    make.make_capacity(provider, most=8, rule="xx_gone", custom={})

    assert capacity_settings(provider).on(MONDAY) is None


# Attendance


def test_it_counts_who_is_signed_in_up_to_now(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    first, second = (place.child for place in _children(provider, 2))
    make.make_attendance(first, MONDAY, arrives=8, leaves=None)
    make.make_attendance(second, MONDAY, arrives=9, leaves=10)

    numbers = _recorded(provider, _chicago(11))

    assert _times(numbers) == [("08:00", "09:00", 1), ("09:00", "10:00", 2), ("10:00", "11:00", 1)]
    assert len(numbers.over) == 1


def test_it_counts_a_child_signed_in_this_very_minute(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    make.make_attendance(_children(provider, 1)[0].child, MONDAY, arrives=8, leaves=None)

    assert _times(_recorded(provider, _chicago(8))) == [("08:00", "08:01", 1)]


def test_it_counts_a_child_collected_after_midnight_on_both_days(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    stay = make.make_attendance(_children(provider, 1)[0].child, MONDAY, arrives=20, leaves=None)
    stay.left_at = _chicago(0, 40, MONDAY + timedelta(days=1))
    stay.save()
    now = _chicago(9, 0, MONDAY + timedelta(days=1))

    assert _times(_recorded(provider, now)) == [("20:00", "00:00", 1)]
    assert _times(_recorded(provider, now, MONDAY + timedelta(days=1))) == [("00:00", "00:40", 1)]


def test_it_counts_a_forgotten_departure_for_a_day_at_most(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    make.make_attendance(_children(provider, 1)[0].child, MONDAY, arrives=8, leaves=None)

    numbers = _recorded(provider, _chicago(15, 0, MONDAY + timedelta(days=1)), MONDAY + timedelta(days=1))

    assert _times(numbers) == [("00:00", "08:00", 1)]


def test_it_takes_an_own_child_as_planned_until_something_is_recorded(provider: Provider) -> None:
    make.make_capacity(provider, most=3)
    child = make.make_child(make.make_household(provider), is_own_child=True)

    assert _times(_recorded(provider, _chicago(9))) == [("07:30", "09:00", 1)]

    make.make_attendance(child, MONDAY, arrives=8, leaves=9)
    assert _times(_recorded(provider, _chicago(12))) == [("08:00", "09:00", 1)]


def test_it_counts_over_the_hour_that_comes_twice(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    autumn = date(2026, 11, 1)
    stay = make.make_attendance(_children(provider, 1)[0].child, autumn, arrives=0, leaves=None)
    stay.left_at = datetime(2026, 11, 1, 9, tzinfo=UTC)  # 3:00 after four hours
    stay.save()

    (level,) = _recorded(provider, datetime(2026, 11, 1, 20, tzinfo=UTC), autumn).levels

    assert level.end.astimezone(UTC) - level.start.astimezone(UTC) == timedelta(hours=4)
    assert (level.start.hour, level.end.hour) == (0, 3)


# The planner


def test_it_finds_room_all_year_in_an_empty_house(provider: Provider) -> None:
    make.make_capacity(provider, most=1)

    found = forecast(provider, Wanted(BIRTH, MONDAY, WEEK))

    assert (found.clashes, found.over, found.fits_from) == ((), 0, MONDAY)
    assert found.wanted == 261
    assert found.week[0].room == [(450, 1050)]


def test_it_says_which_part_is_passed_when_and_on_how_many_days(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    place = make.make_enrolment(make.make_child(make.make_household(provider)), weekdays=(1,))
    PatternDay.objects.filter(enrolment=place).update(arrives=time(9), leaves=time(11, 30))

    found = forecast(provider, Wanted(BIRTH, MONDAY, WEEK))

    (clash,) = found.clashes
    assert (clash.weekday, clash.start, clash.end) == (1, 540, 690)
    assert [(each.name, each.found, each.allowed) for each in clash.excess] == [("Children", 2, 1)]
    assert (len(clash.days), clash.days[0], found.over) == (52, date(2026, 3, 17), 52)
    assert found.week[1].full == [(540, 690)]
    assert found.week[1].room == [(450, 540), (690, 1050)]


def test_it_sees_that_children_grow_out_of_a_limit_for_the_small(provider: Provider) -> None:
    """Two under two years are one too many until the older has its birthday on 1 September."""
    make.make_capacity(provider, most=6, limits=[{"under_months": 24, "most": 1}])
    _children(provider, 1, birth_date=date(2024, 9, 1))

    found = forecast(provider, Wanted(date(2025, 6, 1), MONDAY, WEEK))

    assert found.fits_from == date(2026, 9, 1)
    assert {clash.days[-1] for clash in found.clashes} <= {date(2026, 8, 31) - timedelta(days=n) for n in range(7)}
    assert {each.name for clash in found.clashes for each in clash.excess} == {"children under 2 years"}
    assert found.week[0].some == [(480, 1020)]


def test_it_counts_a_child_born_on_a_leap_day_as_small_until_the_first_of_march(provider: Provider) -> None:
    make.make_capacity(provider, most=6, limits=[{"under_months": 36, "most": 1}])
    _children(provider, 1, birth_date=date(2024, 2, 29))

    found = forecast(provider, Wanted(date(2025, 6, 1), MONDAY, WEEK))

    assert found.fits_from == date(2027, 3, 1)


def test_it_takes_an_unborn_child_for_a_newborn(provider: Provider) -> None:
    make.make_capacity(provider, most=6, limits=[{"under_months": 12, "most": 0}])

    found = forecast(provider, Wanted(date(2026, 8, 1), MONDAY, WEEK))

    assert found.over == found.wanted


def test_it_counts_brothers_and_sisters_as_one_family(provider: Provider) -> None:
    make.make_capacity(provider, most=0, rule="ca_bc_licence_not_required", custom={})
    household = make.make_household(provider)
    for _n in range(2):
        make.make_enrolment(make.make_child(household))

    sibling = forecast(provider, Wanted(BIRTH, MONDAY, WEEK, household=household.pk))
    stranger = forecast(provider, Wanted(BIRTH, MONDAY, WEEK))

    assert (sibling.over, stranger.over) == (0, stranger.wanted)


def test_it_leaves_the_old_days_of_a_child_out_when_it_changes_them(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    place = _children(provider, 1)[0]
    plan = load_plan(provider, DateSpan.day(MONDAY))

    found = forecast(provider, Wanted(place.child.birth_date, MONDAY, WEEK, child=plan.places[0].child))

    assert found.clashes == ()


def test_it_says_where_the_plan_is_over_without_the_newcomer(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    _children(provider, 2)

    found = forecast(provider, Wanted(BIRTH, MONDAY, (WeekSlot(5, time(8), time(9)),)))

    assert len(found.already) == 5
    assert found.clashes == ()


def test_it_blames_nobody_for_closed_days(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    _children(provider, 1)
    Closure.objects.create(
        provider=provider, start=MONDAY, end=MONDAY + timedelta(days=7), kind="time_off", reason="Away"
    )

    found = forecast(provider, Wanted(BIRTH, MONDAY, WEEK))

    assert min(day for clash in found.clashes for day in clash.days) == MONDAY + timedelta(days=7)
    assert found.wanted == 256


def test_it_counts_the_days_for_which_it_knows_no_rule(provider: Provider) -> None:
    make.make_capacity(provider, most=1, start=MONDAY + timedelta(days=7))

    assert forecast(provider, Wanted(BIRTH, MONDAY, WEEK)).unruled == 5


def test_it_looks_over_twelve_months_from_a_leap_day_too() -> None:
    assert year_from(date(2028, 2, 29)) == DateSpan(date(2028, 2, 29), date(2029, 3, 1))


def test_it_says_what_a_saved_place_brings(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    _children(provider, 1)
    second = make.make_enrolment(make.make_child(make.make_household(provider)), start=date(2026, 6, 1), weekdays=(2,))

    clashes = clashes_of_child(provider, second.child, second.start)

    assert [(clash.weekday, clash.days[0]) for clash in clashes] == [(2, date(2026, 6, 3))]


@pytest.mark.parametrize("count", [6, 12])
def test_it_asks_as_often_for_few_children_as_for_many(
    provider: Provider, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    make.make_capacity(provider, most=6)
    _children(provider, count)

    with django_assert_num_queries(6):
        forecast(provider, Wanted(BIRTH, MONDAY, WEEK))


def test_it_never_sees_the_children_of_another_house(provider: Provider) -> None:
    make.make_capacity(provider, most=1)
    other = make.make_provider()
    make.make_capacity(other, most=0)
    _children(other, 3)

    assert forecast(provider, Wanted(BIRTH, MONDAY, WEEK)).over == 0
