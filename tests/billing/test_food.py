import shutil
from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing import food
from billing.food import GROUPS, Eater, MealTotal, MissingFoodRate, Served, claim_meals, food_rules, tax_countable
from provider.rule_files import RuleFileError

DAY = date(2025, 9, 2)
ALL = frozenset(GROUPS)


def eater(key="a", years=4, tier=1, **more):
    return Eater(key, DAY.replace(year=DAY.year - years), tier, **more)


def served(child, *kinds, day=DAY):
    return Served(child, day, frozenset(kinds))


def claim(*meals, region="contiguous"):
    return claim_meals(meals, region)


def kinds(lines):
    return [line.kind for line in lines]


# The most of a day


@pytest.mark.parametrize(
    ("eaten", "claimed"),
    [
        (["breakfast", "lunch", "afternoon_snack"], ["breakfast", "lunch", "afternoon_snack"]),
        (["breakfast", "lunch", "supper"], ["lunch", "supper"]),
        (["breakfast", "lunch", "supper", "evening_snack"], ["lunch", "supper", "evening_snack"]),
        (["morning_snack", "lunch", "afternoon_snack"], ["morning_snack", "lunch", "afternoon_snack"]),
        (["morning_snack", "breakfast", "afternoon_snack"], ["breakfast", "morning_snack", "afternoon_snack"]),
        (["breakfast", "morning_snack", "lunch", "afternoon_snack"], ["breakfast", "morning_snack", "lunch"]),
        (["morning_snack", "afternoon_snack", "evening_snack"], ["morning_snack", "afternoon_snack"]),
        (list(ALL), ["morning_snack", "lunch", "supper"]),
        ([], []),
    ],
)
def test_the_allowed_combination_of_the_highest_value_is_claimed(eaten, claimed):
    assert kinds(claim(served(eater(), *eaten)).claimed) == claimed


def test_the_rest_stays_served_and_not_claimed():
    rest = claim(served(eater(), *ALL)).not_claimed
    assert kinds(rest) == ["breakfast", "afternoon_snack", "evening_snack"]
    assert {(line.not_claimed, line.amount) for line in rest} == {("over_daily_maximum", Decimal("0.00"))}


def test_the_most_is_for_each_child_and_each_day():
    next_day = DAY + timedelta(days=1)
    many = claim(served(eater("a"), *ALL), served(eater("b"), *ALL), served(eater("a"), *ALL, day=next_day))
    assert Counter((line.child, line.day) for line in many.claimed) == {
        ("a", DAY): 3,
        ("b", DAY): 3,
        ("a", next_day): 3,
    }


def test_meals_of_a_day_recorded_in_parts_are_one_day():
    child = eater()
    parts = claim(served(child, "breakfast", "lunch"), served(child, "supper"))
    assert kinds(parts.claimed) == ["lunch", "supper"]


# Who


def test_a_child_is_claimed_until_its_13th_birthday():
    child = Eater("a", date(2012, 9, 2), 1)
    claimed = claim(served(child, "lunch", day=date(2025, 9, 1)), served(child, "lunch"))
    assert [line.not_claimed for line in claimed.lines] == [None, "over_age"]


@pytest.mark.parametrize(("years", "reason"), [(15, None), (16, "over_age")])
def test_a_migrant_child_is_claimed_until_its_16th_birthday(years, reason):
    (line,) = claim(served(eater(years=years, migrant=True), "lunch")).lines
    assert line.not_claimed == reason


def test_a_disabled_child_has_no_age_limit():
    assert claim(served(eater(years=17, disabled=True), "lunch")).claimed


def test_a_child_left_out_of_claims_is_not_claimed():
    (line,) = claim(served(eater(left_out=True), "lunch")).lines
    assert line.not_claimed == "left_out"


def test_an_own_child_is_claimed_only_when_income_eligible():
    other = served(eater("other"), "lunch")
    own = [served(eater(key, is_own=True, income_eligible=key == "poor"), "lunch") for key in ("poor", "rich")]
    assert [line.not_claimed for line in claim(other, *own).lines] == [None, None, "own_child"]


def test_an_own_child_is_claimed_only_for_meals_that_another_child_ate():
    own = served(eater("own", is_own=True, income_eligible=True), "breakfast", "lunch")
    claimed = claim(own, served(eater("other"), "lunch"))
    assert [(line.kind, line.not_claimed) for line in claimed.lines if line.child == "own"] == [
        ("breakfast", "own_child_alone"),
        ("lunch", None),
    ]


@pytest.mark.parametrize(
    "other",
    [
        eater("other", years=13),
        eater("other", left_out=True),
        eater("other", is_own=True, income_eligible=True),
    ],
)
def test_an_own_child_eats_alone_with_children_outside_the_programme(other):
    own = eater("own", is_own=True, income_eligible=True)
    assert "own" not in {line.child for line in claim(served(own, "lunch"), served(other, "lunch")).claimed}


def test_the_company_of_an_own_child_may_be_over_its_own_daily_maximum():
    own = served(eater("own", is_own=True, income_eligible=True), "breakfast")
    claimed = claim(own, served(eater("other"), "breakfast", "lunch", "supper")).claimed
    assert ("own", "breakfast") in {(line.child, line.kind) for line in claimed}


def test_one_key_for_two_children_is_refused():
    with pytest.raises(ValueError, match="two different children"):
        claim(served(eater("a", 3), "lunch"), served(eater("a", 4), "lunch"))


# Money


def test_the_totals_are_by_meal_and_tier():
    day = date(2024, 9, 3)
    one, two = Eater("a", date(2021, 1, 1), 1), Eater("b", date(2021, 1, 1), 2)
    claimed = claim(served(one, "breakfast", "lunch", day=day), served(two, "lunch", "morning_snack", day=day))
    assert claimed.totals == (
        MealTotal("breakfast", 1, Decimal("1.66"), 1),
        MealTotal("snack", 2, Decimal("0.26"), 1),
        MealTotal("lunch", 1, Decimal("3.15"), 1),
        MealTotal("lunch", 2, Decimal("1.90"), 1),
    )
    assert claimed.amount == Decimal("6.97")


def test_the_rates_change_on_the_first_of_july():
    child = eater()
    claimed = claim(served(child, "lunch", day=date(2025, 6, 30)), served(child, "lunch", day=date(2025, 7, 1)))
    assert [line.amount for line in claimed.lines] == [Decimal("3.15"), Decimal("3.22")]


@pytest.mark.parametrize(
    ("region", "tier", "day"),
    [("contiguous", 2, DAY), ("alaska", 1, DAY), ("contiguous", 1, date(2018, 6, 30)), ("guam", 1, DAY)],
)
def test_a_missing_rate_is_named_and_nothing_is_claimed(region, tier, day):
    with pytest.raises(MissingFoodRate) as missing:
        claim(served(eater(tier=tier), "lunch", day=day), region=region)
    assert (missing.value.region, missing.value.tier, missing.value.day) == (region, tier, day)


def test_a_rate_that_nobody_needs_may_be_missing():
    assert claim(served(eater(years=14), "lunch"), region="guam").claimed == ()


def test_the_region_is_found_from_the_state():
    assert [food_rules().region_of(place) for place in ("TX", "AK", "HI", "PR")] == [
        "contiguous",
        "alaska",
        "hawaii",
        "puerto_rico",
    ]


@pytest.fixture
def rules(tmp_path, monkeypatch):
    """A copy of the rule file that a test may spoil."""
    shutil.copy(food.RULES / "us_food_programme.toml", tmp_path)
    monkeypatch.setattr(food, "RULES", tmp_path)
    food_rules.cache_clear()
    yield tmp_path / "us_food_programme.toml"
    food_rules.cache_clear()


@pytest.mark.parametrize(
    ("before", "after", "complaint"),
    [
        ("tier = 2", "tier = 1", "two rates for contiguous, tier 1"),
        ('breakfast = "1.31"', "breakfast = 1.31", "breakfast cannot be 1.31"),
        ("[ages]", "[years]", "missing ages"),
        ("meals = 2", 'meals = "two"', "meals cannot be 'two'"),
    ],
)
def test_a_faulty_rule_file_is_refused(rules, before, after, complaint):
    text = rules.read_text(encoding="utf-8")
    assert before in text
    rules.write_text(text.replace(before, after, 1), encoding="utf-8")
    with pytest.raises(RuleFileError, match=complaint):
        food_rules()


# Laws

some_kinds = st.frozensets(st.sampled_from(list(GROUPS)))
tier_days = st.sampled_from([(1, DAY), (1, date(2024, 9, 3)), (2, date(2024, 9, 3)), (2, date(2021, 3, 1))])


def allowed(chosen):
    snacks = sum(GROUPS[kind] == "snack" for kind in chosen)
    meals = len(chosen) - snacks
    return (meals <= 2 and snacks <= 1) or (meals <= 1 and snacks <= 2)


@given(some_kinds, tier_days)
def test_no_allowed_choice_is_worth_more_than_the_claim(eaten, tier_day):
    tier, day = tier_day
    rate = food_rules().rate("contiguous", tier, day)
    choices = [each for size in range(4) for each in combinations(eaten, size) if allowed(each)]
    best = max(sum((rate.of(kind) for kind in each), Decimal(0)) for each in choices)
    claimed = claim(Served(eater(tier=tier), day, eaten))
    assert allowed(kinds(claimed.claimed))
    assert claimed.amount == best


@given(st.lists(some_kinds, max_size=6), st.randoms(use_true_random=False))
def test_every_meal_is_one_line_and_the_order_changes_no_amount(days, random):
    meals = [Served(eater(number), DAY, eaten) for number, eaten in enumerate(days)]
    claimed = claim(*meals)
    random.shuffle(meals)
    assert len(claimed.lines) == sum(len(eaten) for eaten in days)
    assert claim(*meals).totals == claimed.totals
    assert sum((total.amount for total in claimed.totals), Decimal(0)) == claimed.amount


# The standard meal rates


def test_the_standard_rates_count_three_snacks_where_the_programme_pays_fewer():
    assert tax_countable(ALL) == tuple(GROUPS)


def test_the_standard_rates_count_no_second_lunch_and_no_fourth_snack():
    eaten = ["lunch", "lunch", "evening_snack", "evening_snack", "morning_snack", "afternoon_snack"]
    assert tax_countable(eaten) == ("morning_snack", "lunch", "afternoon_snack", "evening_snack")
