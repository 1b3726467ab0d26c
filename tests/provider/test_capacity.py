import shutil
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from provider.capacity import (
    CapacityRule,
    Child,
    Evaluation,
    Excess,
    Limit,
    Stay,
    UnknownCapacityRule,
    age_in_months,
    assess,
    capacity_rules,
    custom_rule,
    evaluate,
    planned_stays,
    room,
    rule,
    rules,
    would_exceed,
)
from provider.periods import DateSpan, WeekPattern, WeekSlot
from provider.rule_files import RuleFileError

TORONTO = ZoneInfo("America/Toronto")
DAY = date(2026, 3, 3)
SINCE_2020 = DateSpan(date(2020, 1, 1))
THREE = custom_rule(3, effective=SINCE_2020)
TWO_BABIES = custom_rule(5, effective=SINCE_2020, limits=[Limit("children under 2 years", 2, under_months=24)])


def at(hour, minute=0, day=DAY):
    return datetime.combine(day, time(hour, minute), TORONTO)


def child(key, years=4, **more):
    return Child(key, DAY.replace(year=DAY.year - years), **more)


def stay(key, start=8, end=17, years=4, **more):
    return Stay(child(key, years, **more), at(start), at(end))


def spans(breaches):
    return [(breach.start.hour, breach.end.hour) for breach in breaches]


# Over the day


def test_only_the_hours_with_too_many_children_are_a_breach():
    stays = [stay("a"), stay("b"), stay("c", 8, 12), stay("d", 10, 14), stay("e", 13, 15)]
    assert spans(evaluate(THREE, stays, TORONTO).breaches) == [(10, 12), (13, 14)]


def test_a_breach_names_the_children_and_by_how_much():
    (breach,) = evaluate(THREE, [stay(key) for key in "abcd"], TORONTO).breaches
    assert breach.headcount.counted == set("abcd")
    assert breach.headcount.excess == (Excess("Children", 4, 3),)


def test_a_child_arriving_as_another_leaves_is_no_overlap():
    stays = [stay("a"), stay("b"), stay("c", 8, 12), stay("d", 12, 17)]
    assert evaluate(THREE, stays, TORONTO).breaches == ()


def test_one_minute_too_many_is_found():
    late = Stay(child("c"), at(8), at(12, 1))
    stays = [stay("a"), stay("b"), late, stay("d", 12, 17)]
    (breach,) = evaluate(THREE, stays, TORONTO).breaches
    assert (breach.start, breach.end) == (at(12), at(12, 1))


def test_seconds_do_not_make_a_breach():
    late = Stay(child("c"), at(8), at(12) + timedelta(seconds=59))
    assert evaluate(THREE, [stay("a"), stay("b"), late, stay("d", 12, 17)], TORONTO).breaches == ()


def test_a_child_signed_in_twice_counts_once():
    stays = [stay("a"), stay("a", 9, 12), stay("b"), stay("c")]
    assert evaluate(THREE, stays, TORONTO).breaches == ()


def test_the_peak_of_each_day_and_what_is_left_are_told():
    next_day = DAY + timedelta(days=1)
    stays = [stay("a"), stay("b", 9, 10), Stay(child("a"), at(8, day=next_day), at(9, day=next_day))]
    peaks = evaluate(THREE, stays, TORONTO).peaks
    assert [(peak.day, peak.children, peak.headroom) for peak in peaks] == [(DAY, 2, 1), (next_day, 1, 2)]


def test_the_headroom_is_never_below_zero():
    (peak,) = evaluate(THREE, [stay(key) for key in "abcde"], TORONTO).peaks
    assert peak.headroom == 0


def test_a_day_without_children_has_no_peak():
    assert evaluate(THREE, [], TORONTO) == Evaluation((), ())


def test_a_night_over_midnight_belongs_to_both_days():
    night = [Stay(child("a"), at(20), at(6, day=DAY + timedelta(days=1)))]
    assert [peak.day for peak in evaluate(THREE, night, TORONTO).peaks] == [DAY, DAY + timedelta(days=1)]


def test_a_breach_ends_at_midnight_when_a_child_grows_out_of_a_limit():
    birthday = DAY + timedelta(days=1)
    grown = Child("a", birthday.replace(year=birthday.year - 2))
    children = [grown, child("b", 1), child("c", 1)]
    stays = [Stay(each, at(20), at(6, day=birthday)) for each in children]
    (breach,) = evaluate(TWO_BABIES, stays, TORONTO).breaches
    assert (breach.start, breach.end) == (at(20), at(0, day=birthday))


def test_the_hour_gained_in_autumn_is_part_of_the_breach():
    sunday = date(2026, 11, 1)
    stays = [Stay(child(key), at(0, day=sunday), at(4, day=sunday)) for key in "abcd"]
    (breach,) = evaluate(THREE, stays, TORONTO).breaches
    assert breach.end.astimezone(UTC) - breach.start.astimezone(UTC) == timedelta(hours=5)


def test_a_stay_without_a_time_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        evaluate(THREE, [Stay(child("a"), datetime(2026, 3, 3, 8), datetime(2026, 3, 3, 9))], TORONTO)


def test_one_key_for_two_children_is_refused():
    with pytest.raises(ValueError, match="two different children"):
        evaluate(THREE, [stay("a", years=1), stay("a", years=2)], TORONTO)


# Ages


@pytest.mark.parametrize(
    ("birth", "day", "months"),
    [
        (date(2024, 3, 3), date(2026, 3, 2), 23),
        (date(2024, 3, 3), date(2026, 3, 3), 24),
        (date(2024, 2, 29), date(2025, 2, 28), 11),
        (date(2024, 2, 29), date(2025, 3, 1), 12),
        (date(2024, 2, 29), date(2028, 2, 29), 48),
        (date(2025, 1, 31), date(2025, 2, 28), 0),
        (date(2025, 1, 31), date(2025, 3, 1), 1),
        (date(2026, 6, 1), date(2026, 3, 3), 0),
    ],
)
def test_a_month_of_age_is_complete_on_the_day_of_the_same_number_or_the_next_first(birth, day, months):
    assert age_in_months(birth, day) == months


# Who counts


def test_an_own_child_counts_only_below_the_age_of_the_rule():
    own_under_4 = custom_rule(3, effective=SINCE_2020, own_under_months=48)
    stays = [stay("a"), stay("b"), stay("c")]
    three, four = stay("own", years=3, is_own=True), stay("own", years=4, is_own=True)
    assert evaluate(own_under_4, [*stays, three], TORONTO).breaches
    assert not evaluate(own_under_4, [*stays, four], TORONTO).breaches


def test_own_children_never_count_at_zero_months():
    babies = [child(key, 0, is_own=True) for key in "abcd"]
    assert assess(custom_rule(0, effective=SINCE_2020, own_under_months=0), babies, DAY).excess == ()


def test_own_children_count_like_others_when_the_rule_says_nothing():
    assert len(assess(THREE, [child("a", is_own=True), child("b")], DAY).counted) == 2


def test_a_child_past_the_age_of_the_rule_does_not_count():
    under_13 = custom_rule(3, effective=SINCE_2020, children_under_months=156)
    assert assess(under_13, [child("a", 13), child("b", 12)], DAY).counted == {"b"}


# Adults


def test_fewer_adults_than_the_rule_needs_are_a_breach():
    with_two = custom_rule(8, effective=SINCE_2020, adults=2)
    adults = [(at(7), at(18)), (at(7), at(12)), (at(13), at(18))]
    (breach,) = evaluate(with_two, [stay("a")], TORONTO, adults).breaches
    assert spans([breach]) == [(12, 13)]
    assert breach.headcount.excess == (Excess("Adults", 1, 2, too_few=True),)


def test_adults_who_are_not_told_are_taken_to_be_there():
    assert evaluate(custom_rule(8, effective=SINCE_2020, adults=2), [stay("a")], TORONTO).breaches == ()


def test_a_steady_number_of_adults_may_be_told():
    with_two = custom_rule(8, effective=SINCE_2020, adults=2)
    assert [bool(evaluate(with_two, [stay("a")], TORONTO, number).breaches) for number in (1, 2)] == [True, False]


def test_an_adult_alone_in_the_home_is_no_breach():
    assert evaluate(custom_rule(8, effective=SINCE_2020, adults=2), [], TORONTO, [(at(7), at(8))]).breaches == ()


# Planning


def test_the_planner_tells_only_what_the_newcomer_brings():
    planned = [stay(key, 8, 10) for key in "abcd"] + [stay("e", 12, 15), stay("f", 12, 15), stay("g", 12, 13)]
    brought = would_exceed(THREE, planned, [stay("new", 11, 17)], TORONTO)
    assert spans(brought) == [(12, 13)]


def test_the_planner_tells_a_breach_that_gets_worse():
    planned = [stay(key, 8, 12) for key in "abcd"]
    assert spans(would_exceed(THREE, planned, [stay("new", 9, 10)], TORONTO)) == [(9, 10)]


def test_the_planner_is_silent_when_a_breach_stays_as_it_is():
    planned = [stay(key, 8, 12, years=1) for key in "abc"]
    assert would_exceed(TWO_BABIES, planned, [stay("new", 9, 10, years=4)], TORONTO) == ()


def test_longer_hours_of_a_child_already_planned_are_checked():
    planned = [stay("a"), stay("b"), stay("c"), stay("d", 7, 8)]
    assert spans(would_exceed(THREE, planned, [stay("d", 7, 10)], TORONTO)) == [(8, 10)]


def test_room_depends_on_the_age_of_the_newcomer():
    planned = [stay("a", years=1), stay("b", years=1)]
    assert [room(TWO_BABIES, planned, stay("new", 9, 12, years=age), TORONTO) for age in (1, 3)] == [0, 3]


def test_there_is_room_for_the_whole_limit_in_an_empty_home():
    assert room(THREE, [], stay("new"), TORONTO) == 3


def test_a_weekly_pattern_becomes_stays_without_the_closed_days():
    pattern = WeekPattern((WeekSlot(0, time(8), time(12)), WeekSlot(2, time(8), time(17))))
    stays = planned_stays(
        child("a"), pattern, DateSpan(date(2026, 3, 2), date(2026, 3, 16)), TORONTO, {date(2026, 3, 9)}
    )
    assert [(each.start.date().day, each.end.hour) for each in stays] == [(2, 12), (4, 17), (11, 17)]


def test_a_slot_that_ends_next_morning_crosses_midnight():
    pattern = WeekPattern((WeekSlot(0, time(22), time(6)),))
    (night,) = planned_stays(child("a"), pattern, DateSpan.week(DAY), TORONTO)
    assert (night.start, night.end) == (at(22, day=date(2026, 3, 2)), at(6, day=date(2026, 3, 3)))


def test_a_slot_inside_the_hour_skipped_in_spring_is_left_out():
    pattern = WeekPattern((WeekSlot(6, time(2, 30), time(3)),))
    assert planned_stays(child("a"), pattern, DateSpan.day(date(2026, 3, 8)), TORONTO) == []


def test_alternate_weeks_are_followed():
    pattern = WeekPattern((WeekSlot(1, time(8), time(12), "odd"),))
    stays = planned_stays(child("a"), pattern, DateSpan(date(2026, 3, 1), date(2026, 4, 1)), TORONTO)
    assert [each.start.isocalendar().week for each in stays] == [11, 13]


# Rules


def test_the_licence_wins_where_it_is_lower():
    ontario = rule("ca_on_licensed", DAY)
    assert (ontario.limited_to(4).most, ontario.limited_to(9).most) == (4, 6)


def test_the_licence_also_limits_a_rule_without_a_number():
    siblings = [child(key, family="one") for key in "abc"]
    of_bc = rule("ca_bc_licence_not_required", DAY)
    assert not assess(of_bc, siblings, DAY).excess
    assert assess(of_bc.limited_to(2), siblings, DAY).excess == (Excess("Children", 3, 2),)


def test_the_closest_tier_is_the_one_shown():
    toddlers = [child(key, 1) for key in "ab"] + [child(key, 2) for key in "cd"] + [child("e", 3)]
    headcount = assess(rule("ca_bc_family", DAY), toddlers, DAY)
    assert headcount.tier.name == "Seven children, none under 12 months"
    assert headcount.excess == (Excess("children under 48 months", 5, 4),)


def test_every_rule_names_its_source_and_what_nobody_could_check():
    assert all(each.source and each.checked != "entered" for each in capacity_rules())
    assert all(each.unconfirmed for each in capacity_rules() if each.checked != "memory")


def test_the_places_we_promise_have_rules():
    assert {(each.country, each.region) for each in capacity_rules()} == {
        ("CA", "AB"),
        ("CA", "BC"),
        ("CA", "ON"),
        ("US", "CA"),
        ("US", "MN"),
        ("US", "VA"),
    }


def test_an_unknown_rule_or_day_is_refused():
    with pytest.raises(UnknownCapacityRule):
        rule("moon", DAY)
    with pytest.raises(UnknownCapacityRule):
        rule("ca_on_licensed", date(2019, 12, 31))


def test_a_custom_rule_says_who_entered_it():
    assert (THREE.checked, THREE.most) == ("entered", 3)


def test_a_custom_rule_below_zero_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        custom_rule(-1, effective=SINCE_2020)


@pytest.fixture
def rule_files(tmp_path, monkeypatch):
    """A copy of the rule files that a test may spoil."""
    shutil.copytree(rules.RULES, tmp_path, dirs_exist_ok=True)
    monkeypatch.setattr(rules, "RULES", tmp_path)
    capacity_rules.cache_clear()
    yield tmp_path
    capacity_rules.cache_clear()


@pytest.mark.parametrize(
    ("file", "before", "after", "complaint"),
    [
        ("ca_on.toml", "most = 6", 'most = "6"', "most cannot be '6'"),
        ("ca_on.toml", "most = 6", "most = true", "most cannot be True"),
        ("ca_on.toml", "most = 3", "most = -1", "below zero"),
        ("ca_on.toml", "under_months = 24", "under_months = 0", "to under 0 months"),
        ("ca_on.toml", 'checked = "published"', 'checked = "hearsay"', "checked cannot be 'hearsay'"),
        ("ca_on.toml", "adults = 1", "adults = 0", "needs a tier and an adult"),
        ("ca_on.toml", 'region = "ON"', 'region = "QC"', "is another one"),
        ("ca_on.toml", '"ca_on_unlicensed"', '"ca_on_licensed"', "two rules ca_on_licensed"),
        ("ca_bc.toml", "most_families = 1", "", "limits neither"),
        ("us_va.toml", "from_months = 16", "from_months = 17", "gap or overlap at 17"),
        ("us_va.toml", "from_months = 120", "from_months = 120, under_months = 200", "must be open"),
    ],
)
def test_a_faulty_rule_file_is_refused_and_named(rule_files, file, before, after, complaint):
    text = (rule_files / file).read_text(encoding="utf-8")
    assert before in text
    (rule_files / file).write_text(text.replace(before, after, 1), encoding="utf-8")
    with pytest.raises(RuleFileError, match=complaint):
        capacity_rules()


# Laws

monotone = st.sampled_from([each for each in capacity_rules() if not any(tier.quotas for tier in each.tiers)])
any_rule = st.sampled_from(capacity_rules())
children = st.builds(
    Child,
    st.integers(0, 1000),
    st.dates(date(2012, 1, 1), date(2026, 2, 1)),
    st.booleans(),
    st.none() | st.sampled_from("xyz"),
    st.booleans(),
)
rosters = st.lists(children, max_size=14, unique_by=lambda each: each.key)


@st.composite
def planned(draw, at_least=0):
    stays = []
    for each in draw(rosters.filter(lambda some: len(some) >= at_least)):
        start = at(0) + timedelta(minutes=draw(st.integers(0, 2000)))
        stays.append(Stay(each, start, start + timedelta(minutes=draw(st.integers(1, 900)))))
    return stays


def minutes_out(rule: CapacityRule, stays):
    minute = timedelta(minutes=1)
    found = set()
    for breach in evaluate(rule, stays, TORONTO).breaches:
        start, end = breach.start.astimezone(UTC), breach.end.astimezone(UTC)
        found |= {start + minute * number for number in range((end - start) // minute)}
    return found


@given(monotone, planned(at_least=1))
def test_a_further_child_never_ends_a_breach(some_rule, stays):
    assert minutes_out(some_rule, stays[:-1]) <= minutes_out(some_rule, stays)


@given(monotone, planned(at_least=1))
def test_the_planner_tells_every_minute_that_was_not_out_before(some_rule, stays):
    brought = set()
    for breach in would_exceed(some_rule, stays[:-1], stays[-1:], TORONTO):
        start, end = breach.start.astimezone(UTC), breach.end.astimezone(UTC)
        brought |= {start + timedelta(minutes=number) for number in range((end - start) // timedelta(minutes=1))}
    new = minutes_out(some_rule, stays) - minutes_out(some_rule, stays[:-1])
    assert new <= brought <= minutes_out(some_rule, stays)


@given(any_rule, planned(), st.randoms(use_true_random=False))
def test_the_order_of_the_stays_changes_nothing(some_rule, stays, random):
    shuffled = stays.copy()
    random.shuffle(shuffled)
    assert evaluate(some_rule, shuffled, TORONTO) == evaluate(some_rule, stays, TORONTO)


@given(any_rule, planned(at_least=1), st.data())
def test_splitting_a_stay_at_any_minute_changes_nothing(some_rule, stays, data):
    first = stays[0]
    length = (first.end - first.start) // timedelta(minutes=1)
    cut = first.start + timedelta(minutes=data.draw(st.integers(0, length)))
    halves = [Stay(first.child, first.start, cut), Stay(first.child, cut, first.end)]
    assert evaluate(some_rule, [*halves, *stays[1:]], TORONTO) == evaluate(some_rule, stays, TORONTO)


@given(any_rule, planned())
def test_a_rule_limited_to_nobody_is_broken_by_whoever_counts(some_rule, stays):
    evaluation = evaluate(some_rule.limited_to(0), stays, TORONTO)
    assert bool(evaluation.breaches) == any(peak.children or peak.points > 16 for peak in evaluation.peaks)
