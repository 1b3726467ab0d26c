from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from provider.periods import DateSpan, WeekPattern, WeekSlot, scheduled_days, weekday_dates

days = st.dates(date(2020, 1, 1), date(2030, 12, 31))
spans = st.builds(lambda start, length: DateSpan(start, start + timedelta(days=length)), days, st.integers(1, 400))
OPEN, CLOSE = time(7, 30), time(17)


def weekly(*weekdays):
    return WeekPattern(tuple(WeekSlot(weekday, OPEN, CLOSE) for weekday in weekdays))


def test_a_span_holds_its_first_day_but_not_its_end():
    span = DateSpan(date(2025, 3, 3), date(2025, 3, 10))
    assert (date(2025, 3, 3) in span, date(2025, 3, 9) in span, date(2025, 3, 10) in span) == (True, True, False)


def test_an_open_span_holds_every_later_day():
    assert date(2099, 1, 1) in DateSpan(date(2025, 3, 3))


@pytest.mark.parametrize("end", [date(2025, 3, 3), date(2025, 3, 2)])
def test_an_empty_or_inverted_span_is_refused(end):
    with pytest.raises(ValueError, match="end after it starts"):
        DateSpan(date(2025, 3, 3), end)


@pytest.mark.parametrize(
    "ask", [lambda span: span.days, lambda span: span.last_day, lambda span: list(span.iter_days())]
)
def test_an_open_span_has_no_length(ask):
    with pytest.raises(ValueError, match="is open"):
        ask(DateSpan(date(2025, 3, 3)))


@pytest.mark.parametrize(("span", "days"), [(DateSpan.month(2024, 2), 29), (DateSpan.month(2025, 12), 31)])
def test_a_month_has_its_days(span, days):
    assert span.days == days


def test_a_leap_year_has_366_days():
    assert DateSpan.year(2024).days == 366


def test_a_week_runs_from_monday():
    assert DateSpan.week(date(2026, 1, 1)) == DateSpan(date(2025, 12, 29), date(2026, 1, 5))


def test_spans_that_only_touch_do_not_overlap():
    assert not DateSpan.month(2025, 3).overlaps(DateSpan.month(2025, 4))


def test_a_single_day_has_itself_as_its_last_day():
    assert DateSpan.day(date(2024, 2, 29)).last_day == date(2024, 2, 29)


@given(spans, spans)
def test_the_intersection_holds_exactly_the_days_in_both(one, other):
    both = one.intersect(other)
    assert (set(both.iter_days()) if both else set()) == set(one.iter_days()) & set(other.iter_days())


@given(spans)
def test_an_open_span_is_cut_by_the_bounds(bounds):
    assert DateSpan(bounds.start).clip(bounds) == bounds


def test_clipping_away_everything_is_refused():
    with pytest.raises(ValueError, match="outside"):
        DateSpan.month(2025, 3).clip(DateSpan.month(2025, 5))


def test_it_lists_the_weekdays_of_a_span():
    assert weekday_dates(DateSpan(date(2025, 3, 1), date(2025, 3, 10)), {0, 5}) == [
        date(2025, 3, 1),
        date(2025, 3, 3),
        date(2025, 3, 8),
    ]


def test_march_2025_has_21_weekdays_of_care():
    assert len(scheduled_days(weekly(0, 1, 2, 3, 4), DateSpan.month(2025, 3))) == 21


def test_a_closed_day_is_no_care_day():
    span = DateSpan.week(date(2025, 3, 3))
    assert scheduled_days(weekly(0, 2), span, {date(2025, 3, 3)}) == [date(2025, 3, 5)]


def test_two_slots_on_one_day_are_one_care_day():
    around_school = WeekPattern((WeekSlot(0, time(15), time(17)), WeekSlot(0, time(7), time(8, 30))))
    assert scheduled_days(around_school, DateSpan.week(date(2025, 3, 3))) == [date(2025, 3, 3)]


def test_slots_of_a_day_come_in_order_of_time():
    around_school = WeekPattern((WeekSlot(0, time(15), time(17)), WeekSlot(0, time(7), time(8, 30))))
    assert [slot.start for slot in around_school.on(date(2025, 3, 3))] == [time(7), time(15)]


def test_odd_and_even_weeks_alternate_by_iso_week():
    odd = WeekPattern((WeekSlot(4, OPEN, CLOSE, "odd"),))
    assert scheduled_days(odd, DateSpan.month(2025, 3)) == [date(2025, 3, 14), date(2025, 3, 28)]


@given(spans)
def test_odd_and_even_weeks_together_are_every_week(span):
    alternating = WeekPattern((WeekSlot(1, OPEN, CLOSE, "odd"), WeekSlot(1, OPEN, CLOSE, "even")))
    assert scheduled_days(alternating, span) == scheduled_days(weekly(1), span)


@pytest.mark.parametrize("slot", [(7, OPEN, CLOSE), (-1, OPEN, CLOSE), (0, OPEN, OPEN), (0, OPEN, CLOSE, "monthly")])
def test_an_impossible_slot_is_refused(slot):
    with pytest.raises(ValueError):
        WeekSlot(*slot)
