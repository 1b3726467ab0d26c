"""What the checks find, and the hours in which no young child is expected."""

from dataclasses import fields, replace
from datetime import date, time
from decimal import Decimal

import pytest

from curriculum import screening
from curriculum.checks import rule_files
from curriculum.models import Filler
from curriculum.screening import (
    Check,
    Facts,
    Finding,
    Presence,
    Window,
    screen,
    screening_checks,
    windows_without,
    youngest_birth,
)
from curriculum.templatetags.screening import CHECKS, UNKNOWN, age_words, check_words, unknown_words, window_words

DAY = date(2025, 3, 3)
BABY, TODDLER, FOUR = date(2024, 6, 1), date(2023, 3, 1), date(2021, 3, 1)
NOTHING_FOUND = Facts(
    age_mark=0,
    smallest=(Decimal(60), Decimal(60), Decimal(60)),
    ball=Decimal(0),
    cord=Decimal(0),
    loop=Decimal(0),
    magnet=False,
    button_cell=False,
    latex=False,
    plastic_bag=False,
    old_paint=False,
)


def codes(facts, region="US", age=None):
    return {each.check.code for each in screen(facts, region) if each.concerns(age)}


@pytest.mark.parametrize("region", ["US", "CA"])
def test_a_thing_of_which_everything_is_known_and_harmless_calls_for_no_check(region):
    assert codes(NOTHING_FOUND, region) == set()


@pytest.mark.parametrize("region", ["US", "CA"])
def test_what_nobody_looked_at_is_named(region):
    findings = screen(Facts(), region)

    assert all(each.is_unknown for each in findings)
    assert {each.check.finds for each in findings} == set(UNKNOWN)


@pytest.mark.parametrize(
    ("fact", "code"),
    [
        ({"smallest": (Decimal(10), Decimal(10), Decimal(10))}, "small_parts"),
        ({"ball": Decimal(40)}, "small_ball"),
        ({"cord": Decimal(300)}, "cord"),
        ({"loop": Decimal(360)}, "loop"),
        ({"magnet": True}, "magnet_loose"),
        ({"magnet": True}, "magnet_reach"),
        ({"button_cell": True}, "button_cell"),
        ({"latex": True}, "latex"),
        ({"plastic_bag": True}, "bag_reach"),
        ({"old_paint": True}, "old_paint"),
        ({"age_mark": 36}, "age_mark"),
    ],
)
def test_a_fact_calls_for_its_check(fact, code):
    assert code in codes(replace(NOTHING_FOUND, **fact))


@pytest.mark.parametrize(("fact", "length"), [("cord", "299.9"), ("loop", "359.9")])
def test_a_short_cord_or_loop_calls_for_none(fact, length):
    assert codes(replace(NOTHING_FOUND, **{fact: Decimal(length)})) == set()


@pytest.mark.parametrize(
    ("code", "age", "facts"),
    [
        ("age_mark", 36, {"age_mark": 36}),
        ("small_parts", 36, {"smallest": (Decimal(1), Decimal(1), Decimal(1))}),
        ("latex", 96, {"latex": True}),
        ("button_cell", 84, {"button_cell": True}),
        ("sensory_table", 18, {"filler": "sand"}),
        ("toddler_filler", 36, {"filler": "dry_food"}),
    ],
)
def test_a_check_concerns_children_below_its_age_only(code, age, facts):
    known = replace(NOTHING_FOUND, **facts)

    assert code in codes(known, age=age - 1)
    assert code not in codes(known, age=age)


def test_a_child_of_unknown_age_is_taken_for_the_youngest():
    assert "sensory_table" in codes(replace(NOTHING_FOUND, filler="sand"), age=None)


def test_two_measured_sides_leave_the_piece_unknown():
    (found,) = screen(replace(NOTHING_FOUND, smallest=(Decimal(10), Decimal(20), None)), "US")

    assert (found.check.code, found.is_unknown) == ("small_parts", True)


def test_one_side_that_is_too_long_settles_the_piece():
    assert codes(replace(NOTHING_FOUND, smallest=(Decimal(80), None, None))) == set()


@pytest.mark.parametrize("filler", ["kidney_beans", "water_beads", "foam"])
def test_some_fillings_are_not_for_play_at_any_age(filler):
    findings = screen(replace(NOTHING_FOUND, filler=filler), "CA")

    assert any(each.check.never and each.concerns(120) for each in findings)


def test_every_filling_that_can_be_chosen_calls_for_a_check():
    for filler in Filler.values:
        assert bool(codes(replace(NOTHING_FOUND, filler=filler))) is bool(filler)


def test_a_bag_is_also_measured_in_canada():
    bag = replace(NOTHING_FOUND, plastic_bag=True)

    assert "bag_film" in codes(bag, "CA")
    assert "bag_film" not in codes(bag, "US")


@pytest.mark.parametrize("word", ["missing", "due", "unsure"])
def test_a_recall_look_up_calls_for_its_check(word):
    assert codes(replace(NOTHING_FOUND, recalls=frozenset({word}))) == {f"recall_{word}"}


def test_a_recalled_thing_is_never_for_play():
    (found,) = screen(replace(NOTHING_FOUND, recalls=frozenset({"recalled"})), "US")

    assert found.check.never


def test_every_check_has_words_that_promise_nothing():
    for check in screening_checks():
        words = check_words(Finding(check, None)).lower()
        assert words
        assert "safe" not in words
    assert set(CHECKS) == {check.code for check in screening_checks()}


def test_what_was_not_looked_at_is_said_once_each():
    assert unknown_words(screen(replace(NOTHING_FOUND, magnet=None, latex=None), "CA")) == "magnets, latex"


@pytest.mark.parametrize(
    "wrong",
    [
        {"across": None},
        {"finds": "magnet"},
        {"fillers": ("sand",)},
        {"regions": ()},
        {"under_months": 0},
        {"never": True},
    ],
)
def test_a_faulty_check_is_refused(wrong):
    check = next(each for each in screening_checks() if each.code == "small_parts")
    given = {field.name: getattr(check, field.name) for field in fields(Check)}

    with pytest.raises(ValueError, match=r"check|nowhere|age"):
        Check(**{**given, **wrong})


def at(birth, weekday, start, end):
    return Presence(birth, weekday, time(start), time(end))


def test_the_youngest_child_is_found_for_the_week_and_for_a_weekday():
    expected = [at(BABY, 0, 8, 12), at(FOUR, 0, 8, 17), at(TODDLER, 1, 8, 17)]

    assert youngest_birth(expected) == BABY
    assert youngest_birth(expected, weekday=1) == TODDLER
    assert youngest_birth(expected, weekday=2) is None


def test_the_hours_without_a_young_child_are_named():
    expected = [at(BABY, 0, 9, 12), at(FOUR, 0, 8, 17), at(FOUR, 1, 8, 17), at(TODDLER, 1, 7, 18)]

    found = windows_without(expected, 36, DAY)

    assert found == (Window(0, time(8), time(9)), Window(0, time(12), time(17)))


def test_neighbouring_hours_are_joined():
    expected = [at(FOUR, 2, 8, 12), at(date(2020, 1, 1), 2, 10, 17)]

    assert windows_without(expected, 36, DAY) == (Window(2, time(8), time(17)),)


def test_hours_without_anybody_are_no_window():
    expected = [at(FOUR, 3, 8, 10), at(FOUR, 3, 14, 16)]

    assert windows_without(expected, 36, DAY) == (Window(3, time(8), time(10)), Window(3, time(14), time(16)))


def test_a_child_is_old_enough_on_its_birthday():
    expected = [at(date(2022, 3, 3), 0, 8, 12)]

    assert windows_without(expected, 36, DAY)
    assert not windows_without(expected, 36, date(2025, 3, 2))


def test_ages_and_hours_are_said_as_a_person_says_them():
    assert [age_words(months) for months in (1, 18, 25, 30, 36)] == [
        "1 month",
        "18 months",
        "25 months",
        "2½ years",
        "3 years",
    ]


def test_hours_are_said_for_neighbouring_weekdays_together():
    afternoon = [Window(day, time(13), time(15, 30)) for day in (0, 1, 2, 4)]

    told = window_words([*afternoon[:2], Window(2, time(8), time(9)), *afternoon[2:]])

    assert told == (
        "Monday – Tuesday 1 p.m. – 3:30 p.m.; Wednesday 8 a.m. – 9 a.m., 1 p.m. – 3:30 p.m.; Friday 1 p.m. – 3:30 p.m."
    )


@pytest.mark.parametrize(
    ("line", "wrong"),
    [
        ('across = "31.75"', 'across = "wide"'),
        ('across = "31.75"', ""),
        ('across = "31.75"', "across = 31.75"),
        ("under_months = 18", 'under_months = "18"'),
        ('fillers = ["dough"]', ""),
        ("never = true", "under_months = 18\nnever = true"),
    ],
)
def test_a_faulty_rule_file_is_found_before_anything_is_served(line, wrong, tmp_path, monkeypatch):
    path = tmp_path / "screening.toml"
    path.write_text(screening.RULES.read_text("utf-8").replace(line, wrong, 1), "utf-8")
    monkeypatch.setattr(screening, "RULES", path)
    screening_checks.cache_clear()

    errors = rule_files(None)

    screening_checks.cache_clear()
    assert [error.id for error in errors] == ["curriculum.E001"]


def test_the_rule_files_are_sound():
    assert rule_files(None) == []
