from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from provider.hours import hours, merge, minutes, minutes_by_date, total_hours

CHICAGO = ZoneInfo("America/Chicago")


def at(day, hour, minute=0, second=0):
    return datetime(2025, 3, day, hour, minute, second, tzinfo=CHICAGO)


starts = st.datetimes(datetime(2025, 1, 1), datetime(2025, 12, 30)).map(lambda moment: moment.replace(tzinfo=UTC))
intervals = st.lists(
    st.builds(lambda start, length: (start, start + timedelta(minutes=length)), starts, st.integers(0, 2000)),
    max_size=8,
)


def test_overlaps_are_counted_once():
    assert minutes([(at(3, 7), at(3, 12)), (at(3, 11), at(3, 17)), (at(3, 8), at(3, 9))]) == 600


def test_touching_intervals_become_one():
    assert len(merge([(at(3, 12), at(3, 17)), (at(3, 7), at(3, 12))])) == 1


def test_an_interval_of_no_length_disappears():
    assert merge([(at(3, 7), at(3, 7))]) == []


def test_seconds_are_dropped():
    assert minutes([(at(3, 7, 0, 59), at(3, 7, 30, 1))]) == 30


def test_the_day_the_clocks_go_forward_is_an_hour_short():
    night = [(at(8, 20), at(9, 8))]
    assert minutes_by_date(night, CHICAGO) == {date(2025, 3, 8): 240, date(2025, 3, 9): 420}


def test_the_day_the_clocks_go_back_is_an_hour_long():
    start = datetime(2025, 11, 2, 0, 0, tzinfo=CHICAGO)
    assert minutes_by_date([(start, start + timedelta(days=1))], CHICAGO) == {date(2025, 11, 2): 1500}


@given(intervals)
def test_minutes_by_date_sum_to_the_minutes(some):
    assert sum(minutes_by_date(some, CHICAGO).values()) == minutes(some)


@given(intervals)
def test_merging_twice_changes_nothing(some):
    assert merge(merge(some)) == merge(some)


@given(intervals, intervals)
def test_more_intervals_never_mean_fewer_minutes(some, more):
    assert minutes(some) <= minutes(some + more) <= minutes(some) + minutes(more)


def test_minutes_become_hours_with_two_decimals():
    assert (hours(100), hours(0)) == (Decimal("1.67"), Decimal("0.00"))


def test_hours_are_rounded_once_on_the_total():
    twenty_minutes = [(at(day, 7), at(day, 7, 20)) for day in (3, 4, 5)]
    assert total_hours(twenty_minutes) == Decimal("1.00")


def test_a_naive_datetime_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        minutes([(datetime(2025, 3, 3, 7), datetime(2025, 3, 3, 8))])


def test_an_end_before_its_start_is_refused():
    with pytest.raises(ValueError, match="before it starts"):
        minutes([(at(3, 8), at(3, 7))])
