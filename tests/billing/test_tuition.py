from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.tuition import Agreement, Closure, payer_shares, tuition_lines
from provider.money import from_cents
from provider.periods import DateSpan, WeekPattern, WeekSlot

WEEKDAYS = (0, 1, 2, 3, 4)
SINCE_2024 = DateSpan(date(2024, 1, 1))


def pattern(*weekdays, cycle="every"):
    return WeekPattern(tuple(WeekSlot(weekday, time(7, 30), time(17), cycle) for weekday in weekdays))


def agreement(rate="840.00", period="monthly", span=SINCE_2024, week=None):
    return Agreement(Decimal(rate), period, week or pattern(*WEEKDAYS), span)


def amounts(lines):
    return [str(line.amount) for line in lines]


rates = st.integers(1, 300_000).map(from_cents)
months = st.tuples(st.integers(2023, 2027), st.integers(1, 12))
patterns = st.sets(st.integers(0, 6), min_size=1).map(lambda weekdays: pattern(*weekdays))


def test_a_full_month_costs_its_rate_without_arithmetic():
    (line,) = tuition_lines(agreement(), 2025, 3)
    assert (line.amount, line.arithmetic) == (Decimal("840.00"), "")


def test_a_join_in_mid_month_is_charged_by_care_days():
    (line,) = tuition_lines(agreement(span=DateSpan(date(2025, 3, 20))), 2025, 3)
    assert (line.arithmetic, line.amount) == ("8 of 21 care days", Decimal("320.00"))


def test_a_leave_in_mid_month_is_charged_up_to_the_last_day():
    (line,) = tuition_lines(agreement(span=DateSpan(date(2025, 1, 1), date(2025, 3, 20))), 2025, 3)
    assert (line.arithmetic, line.amount) == ("13 of 21 care days", Decimal("520.00"))


def test_a_part_time_child_is_prorated_by_her_own_care_days():
    tuesdays_thursdays = agreement("400.00", span=DateSpan(date(2025, 3, 17)), week=pattern(1, 3))
    (line,) = tuition_lines(tuesdays_thursdays, 2025, 3)
    assert (line.arithmetic, line.amount) == ("4 of 8 care days", Decimal("200.00"))


def test_an_unpaid_closure_reduces_the_month():
    (line,) = tuition_lines(agreement(), 2025, 3, [Closure(date(2025, 3, 14), paid=False)])
    assert (line.arithmetic, line.amount) == ("20 of 21 care days", Decimal("800.00"))


def test_a_paid_closure_changes_nothing():
    (line,) = tuition_lines(agreement(), 2025, 3, [Closure(date(2025, 3, 14), paid=True)])
    assert line.amount == Decimal("840.00")


def test_an_unpaid_closure_on_a_day_without_care_changes_nothing():
    (line,) = tuition_lines(agreement(), 2025, 3, [Closure(date(2025, 3, 15), paid=False)])
    assert line.amount == Decimal("840.00")


def test_a_month_closed_unpaid_is_listed_at_nothing():
    closures = [Closure(day, paid=False) for day in DateSpan.month(2025, 8).iter_days()]
    (line,) = tuition_lines(agreement(), 2025, 8, closures)
    assert (line.amount, line.arithmetic) == (Decimal("0.00"), "0 of 21 care days")


def test_the_arithmetic_of_a_part_month_can_be_shown():
    (line,) = tuition_lines(agreement(span=DateSpan(date(2025, 3, 20))), 2025, 3)
    assert [(step.expression, step.result) for step in line.steps] == [("840.00 × 8 ÷ 21", Decimal("320.00"))]


def test_an_agreement_outside_the_month_gives_no_line():
    assert tuition_lines(agreement(span=DateSpan(date(2025, 4, 1))), 2025, 3) == ()


def test_an_agreement_without_a_care_day_in_the_month_gives_no_line():
    assert tuition_lines(agreement(span=DateSpan(date(2025, 5, 31))), 2025, 5) == ()


@pytest.mark.parametrize("period", ["monthly", "weekly"])
def test_a_free_place_gives_no_line(period):
    assert tuition_lines(agreement("0.00", period), 2025, 3) == ()


def test_a_week_belongs_to_the_month_of_its_first_care_day():
    lines = tuition_lines(agreement("200.00", "weekly"), 2025, 3)
    assert [line.span.start for line in lines] == [date(2025, 3, day) for day in (3, 10, 17, 24, 31)]


def test_a_weekend_does_not_draw_a_week_into_the_earlier_month():
    friday_child = agreement("60.00", "weekly", week=pattern(4))
    assert tuition_lines(friday_child, 2025, 4)[0].span.start == date(2025, 3, 31)


def test_the_first_part_week_is_prorated_by_its_care_days():
    lines = tuition_lines(agreement("200.00", "weekly", DateSpan(date(2025, 3, 19))), 2025, 3)
    assert [(line.arithmetic, str(line.amount)) for line in lines] == [
        ("3 of 5 care days", "120.00"),
        ("", "200.00"),
        ("", "200.00"),
    ]


def test_a_part_week_over_the_month_end_falls_in_the_month_in_which_care_begins():
    joins_in_april = agreement("200.00", "weekly", DateSpan(date(2025, 4, 2)))
    assert (tuition_lines(joins_in_april, 2025, 3), amounts(tuition_lines(joins_in_april, 2025, 4))[0]) == (
        (),
        "120.00",
    )


def test_an_unpaid_closure_reduces_its_week_only():
    lines = tuition_lines(agreement("200.00", "weekly"), 2025, 2, [Closure(date(2025, 2, 17), paid=False)])
    assert amounts(lines) == ["200.00", "200.00", "160.00", "200.00"]


def test_weeks_without_care_in_an_alternating_pattern_are_not_charged():
    lines = tuition_lines(agreement("90.00", "weekly", week=pattern(0, 1, cycle="odd")), 2025, 3)
    assert [line.span.start.isocalendar().week for line in lines] == [11, 13]


@given(rates, months, patterns, st.integers(0, 30), st.sampled_from(["monthly", "weekly"]))
def test_a_part_never_costs_more_than_the_full_rate(rate, month, week, offset, period):
    start = date(*month, 1) + timedelta(days=offset)
    lines = tuition_lines(Agreement(rate, period, week, DateSpan(start)), *month)
    assert all(0 <= line.amount <= rate for line in lines)


@given(rates, months, patterns, st.integers(1, 27))
def test_the_parts_before_and_after_a_change_make_a_month_within_a_cent(rate, month, week, offset):
    change = date(*month, 1) + timedelta(days=offset)
    before = Agreement(rate, "monthly", week, DateSpan(date(2020, 1, 1), change))
    after = Agreement(rate, "monthly", week, DateSpan(change))
    both = tuition_lines(before, *month) + tuition_lines(after, *month)
    assert abs(sum(line.amount for line in both) - rate) <= Decimal("0.01")


@given(patterns, st.dates(date(2025, 1, 1), date(2025, 12, 1)), st.integers(1, 200))
def test_over_a_stay_every_care_day_is_charged_exactly_once(week, start, length):
    span = DateSpan(start, start + timedelta(days=length))
    stay = Agreement(Decimal("100.00"), "weekly", week, span)
    lines = [line for number in range(24) for line in tuition_lines(stay, 2025 + number // 12, number % 12 + 1)]
    charged = [day for line in lines for day in line.span.iter_days() if week.on(day)]
    assert charged == [day for day in span.iter_days() if week.on(day)]


def test_payers_share_an_amount_exactly():
    shares = payer_shares(Decimal("100.01"), {"parent": 70, "grandparent": 30})
    assert shares == {"parent": Decimal("70.01"), "grandparent": Decimal("30.00")}


@pytest.mark.parametrize(
    "faulty", [{"rate": "-1.00"}, {"period": "day"}, {"week": WeekPattern(())}], ids=["rate", "period", "pattern"]
)
def test_an_impossible_agreement_is_refused(faulty):
    wanted = {"rate": Decimal("1.00"), "period": "monthly", "week": pattern(0)} | faulty
    with pytest.raises(ValueError):
        Agreement(Decimal(wanted["rate"]), wanted["period"], wanted["week"], SINCE_2024)
