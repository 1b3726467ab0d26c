"""How many children a home may have at once, worked by hand from the texts.

Each case stands under the text it was worked from, and names the children by age at the edge the text draws. Texts
marked "summary" were read only in a summary by a public body. Not checked here: what no text said (see `unconfirmed` of
the rule files).
"""

from datetime import date

import pytest

from provider.capacity import Child, assess, rule

DAY = date(2026, 6, 15)


def born(months):
    """Whose age on DAY is exactly so many months."""
    year, month = divmod(DAY.year * 12 + DAY.month - 1 - months, 12)
    return date(year, month + 1, DAY.day)


def group(*months, **more):
    return [Child(object(), born(each), **more) for each in months]


def within(code, children, day=DAY, adults=None):
    return not assess(rule(code, day), children, day, adults).excess


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(12, 12, 12, 30, 30, 60), True),
        (group(12, 12, 12, 23, 30, 60), False),
        (group(12, 12, 12, 24, 30, 60), True),
        (group(30, 30, 30, 30, 30, 30, 155), False),
        (group(30, 30, 30, 30, 30, 30, 156), True),
        (group(30, 30, 30, 30, 30, 30) + group(47, is_own=True), False),
        (group(30, 30, 30, 30, 30, 30) + group(48, is_own=True), True),
        (group(12, 12, 12) + group(12, is_own=True), False),
    ],
)
def test_ontario_agency_home_six_under_13_three_under_2_own_under_4_count(children, allowed):
    """Ontario, child care rules under the Child Care and Early Years Act, 2014; O. Reg. 137/15 section 9."""
    assert within("ca_on_licensed", children) is allowed


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(12, 12, 12, 30, 60), True),
        (group(30, 30, 30, 30, 30, 60), False),
        (group(12, 12, 12, 12), False),
        (group(30, 30, 30, 30) + group(47, is_own=True), True),
        (group(30, 30, 30, 30, 30) + group(47, is_own=True), False),
        (group(30, 30, 30, 30, 30) + group(48, is_own=True), True),
    ],
)
def test_ontario_without_a_licence_five_and_three_under_2(children, allowed):
    """Ontario Ministry of Education, child care providers."""
    assert within("ca_on_unlicensed", children) is allowed


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(6, 30, 47, 48, 60, 60, 60), True),
        (group(6, 30, 47, 48, 60, 60, 60, 60), False),
        (group(6, 11, 47), False),
        (group(6, 12, 30, 47), False),
        (group(12, 23, 30, 47, 60, 60, 60), True),
        (group(12, 23, 23, 47), False),
        (group(12, 23, 24, 24, 24), False),
        (group(12, 23, 24, 24, 48), True),
        (group(12, 12, 12), True),
        (group(11, 12, 12), True),
    ],
)
def test_bc_family_three_under_48_months_with_one_under_12_or_four_with_none(children, allowed):
    """B.C. Reg. 332/2007 Schedule E; the age mix from a government release of 2007 (summary)."""
    assert within("ca_bc_family", children) is allowed


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(6, 20, 35, 36, 40, 50, 60, 70), True),
        (group(6, 20, 35, 36, 40, 50, 60, 70, 80), False),
        (group(6, 11, 40), False),
        (group(12, 20, 30, 35), False),
    ],
)
def test_bc_in_home_multi_age_eight_three_under_36_months_one_under_12(children, allowed):
    """B.C. Reg. 332/2007; the age mix from a government release (summary)."""
    assert within("ca_bc_in_home_multi_age", children) is allowed


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(12, 30), True),
        (group(12, 30, 60), False),
        (group(12, 30, 60, family="one"), True),
        (group(12, 30, family="one") + group(60, family="two"), False),
        (group(12, 30) + group(24, 48, is_own=True), True),
    ],
)
def test_bc_without_a_licence_two_unrelated_or_one_sibling_group(children, allowed):
    """Government of British Columbia, licensed and unlicensed child care."""
    assert within("ca_bc_licence_not_required", children) is allowed


@pytest.mark.parametrize(("day", "allowed"), [(date(2021, 1, 31), False), (date(2021, 2, 1), True)])
def test_alberta_day_home_counts_own_children_only_before_the_act_of_2021(day, allowed):
    """Government of Alberta, become an approved family day home, both versions; the day itself is from memory."""
    children = [Child(key, date(2018, 1, 1), is_own=key == 6) for key in range(7)]
    assert within("ca_ab_family_day_home", children, day) is allowed


@pytest.mark.parametrize(
    ("children", "allowed"),
    [
        (group(6, 10, 20, 23), True),
        (group(6, 10, 20, 23, 24), False),
        (group(6, 10, 20, 30, 30, 60), True),
        (group(6, 10, 20, 30, 30, 60, 60), False),
        (group(6, 10, 30, 30, 30, 50, 72, 72), True),
        (group(6, 10, 20, 30, 30, 50, 72, 72), False),
        (group(6, 10, 30, 30, 30, 50, 60, 72), False),
        (group(6, 10, 30, 30, 30, 50, 72) + group(60, in_school=True), True),
        (group(6, 10, 30, 30, 30, 50) + group(60, 62, in_school=True), False),
        (group(6, 10, 30, 30, 30, 50, 72, 72, 72), False),
        (group(30, 30, 30, 30, 30, 30) + group(119, is_own=True), False),
        (group(30, 30, 30, 30, 30, 30) + group(120, is_own=True), True),
    ],
)
def test_california_small_four_infants_or_six_or_eight_with_two_of_school_age(children, allowed):
    """California Health and Safety Code 1597.44; 22 CCR 102416.5 (summary); 22 CCR 100000.4."""
    assert within("us_ca_small", children) is allowed


@pytest.mark.parametrize(
    ("children", "adults", "allowed"),
    [
        (group(*[6] * 4, *[30] * 8), 2, True),
        (group(*[6] * 4, *[30] * 8), 1, False),
        (group(*[6] * 5, *[30] * 7), 2, False),
        (group(*[6] * 3, *[30] * 9, 72, 72), 2, True),
        (group(*[6] * 4, *[30] * 8, 72, 72), 2, False),
        (group(*[6] * 3, *[30] * 10, 72), 2, False),
        (group(*[6] * 3, *[30] * 9, 72, 72, 72), 2, False),
    ],
)
def test_california_large_twelve_with_four_infants_or_fourteen_with_three(children, adults, allowed):
    """California Health and Safety Code 1597.465 (the tier of twelve: summary)."""
    assert within("us_ca_large", children, adults=adults) is allowed


@pytest.mark.parametrize(
    ("letter", "children", "allowed"),
    [
        ("a", group(6, 11, 12, 24, 36, 59, 60, 72, 84, 120), True),
        ("a", group(6, 11, 12, 24, 36, 59, 60, 72, 84, 120, 130), False),
        ("a", group(6, 11, 12, 24, 36, 48, 59), False),
        ("a", group(6, 11, 12, 23), False),
        ("a", group(6, 8, 11), False),
        ("a", group(6, 11, 12, 24, 36, 59, 60, 72, 84, 120, 132), True),
        ("b1", group(6, 6, 11, 60, 72), True),
        ("b1", group(6, 6, 11, 36), False),
        ("b1", group(6, 60, 60, 72, 72, 84), False),
        ("b2", group(6, 11, 29, 30, 60, 72), True),
        ("b2", group(6, 8, 11), False),
        ("b2", group(6, 11, 24, 29, 30), False),
        ("c1", group(6, 11, 23, 24, 36, 48, 48, 59, 60, 72), True),
        ("c1", group(6, 11, 23, 24, 36, 48, 48, 59, 59), False),
        ("c1", group(6, 11, 12, 23), False),
        ("c2", group(6, 23, *[36] * 8, 60, 72), True),
        ("c2", group(6, 11), False),
        ("c2", group(6, 12, 23), False),
        ("c2", group(12, 12, 12), False),
        ("c2", group(6, 23, *[36] * 9), False),
        ("c3", group(6, 6, 11, 23, *[36] * 6, 60, 60, 72, 72), True),
        ("c3", group(6, 6, 6, 11), False),
        ("c3", group(6, 6, 12, 12, 23), False),
        ("d", group(6, 6, 11, 11, 29, 30, 36, 60, 72), True),
        ("d", group(6, 6, 6, 11, 11), False),
        ("d", group(6, 6, 11, 11, 29, 30, 36, 48), False),
        ("d", group(6, 6, 11, 11, 29, 30, 36, 60, 72, 84), False),
    ],
)
def test_minnesota_classes(letter, children, allowed):
    """Minnesota Rules 9502.0367; ages: 9502.0365 (infant under 12 months, toddler under 24 or 30, school from 5)."""
    assert within(f"us_mn_{letter}", children) is allowed


@pytest.mark.parametrize(
    ("others", "days", "allowed"),
    [
        (group(30, 60), 41, True),
        (group(30, 60, 72), 41, False),
        (group(30, 60, 72), 42, True),
        (group(11, 60), 41, False),
        (group(11, 60), 42, True),
    ],
)
def test_minnesota_a_newborn_is_the_only_one_under_12_months_with_two_others(others, days, allowed):
    """Minnesota Rules 9502.0365: an infant is six weeks old."""
    newborn = Child("newborn", date.fromordinal(DAY.toordinal() - days))
    assert within("us_mn_a", [*others, newborn]) is allowed


@pytest.mark.parametrize(
    ("children", "points"),
    [
        (group(0, 6, 12, 15), 16),
        (group(16, 23), 6),
        (group(24, 59), 4),
        (group(60, 119), 2),
        (group(120, 150), 0),
        (group(15, 23, 59, 119, 120), 10),
    ],
)
def test_virginia_points_by_age(children, points):
    """Virginia family day homes, points for each caregiver (state summary)."""
    assert assess(rule("us_va_points", DAY), children, DAY).points == points


@pytest.mark.parametrize(
    ("children", "adults", "allowed"),
    [
        (group(6, 6, 6, 6), 1, True),
        (group(6, 6, 6, 6, 60), 1, False),
        (group(6, 6, 6, 6, 120), 1, True),
        (group(6, 6, 6, 6, 60), 2, True),
        (group(16, 16, 16, 16, 16), 1, True),
        (group(16, 16, 16, 16, 16, 24), 1, False),
        (group(*[24] * 8), 1, True),
        (group(*[24] * 9), 1, False),
        (group(*[60] * 12), 1, True),
        (group(*[60] * 13), 1, False),
        (group(*[60] * 12) + group(100, is_own=True), 1, True),
    ],
)
def test_virginia_sixteen_points_for_each_caregiver_and_twelve_children(children, adults, allowed):
    """Points: state summary. 5 to 12 children, own and resident children left out: 8VAC20-800-40."""
    assert within("us_va_points", children, adults=adults) is allowed
