"""Food programme for homes and the standard meal rates.

Department of Agriculture, Child and Adult Care Food Program, rates for day care homes as sponsors and associations
list them (contiguous states); 42 USC 1766(f). Revenue Procedure 2003-22 for the standard meal rates.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.food import GROUPS, Eater, Served, claim_meals, food_rules, tax_countable
from billing.rulebook import load_rulebook

TAX_FIGURES = {"breakfast": "meal_breakfast", "lunch": "meal_lunch_dinner", "supper": "meal_lunch_dinner"}


def month_of_22_days(first_day, tier=1):
    children = [Eater(number, date(2022, 1, 1), tier) for number in range(7)]
    eaten = frozenset({"breakfast", "lunch", "afternoon_snack"})
    return claim_meals(
        [Served(child, first_day + timedelta(days=number), eaten) for child in children for number in range(22)],
        "contiguous",
    )


def tax_rates(year):
    """Breakfast, lunch and snack of the rule file of a tax year."""
    codes = ("meal_breakfast", "meal_lunch_dinner", "meal_snack")
    return tuple(load_rulebook("US", year).figure(code, date(year, 3, 1)).value for code in codes)


def test_seven_children_for_22_days_bring_21_56_more_after_the_rise_of_july_2025():
    """An association's article on the rates of 2025-26: 7 children x 22 days x 0.14."""
    before, after = month_of_22_days(date(2024, 8, 1)), month_of_22_days(date(2025, 8, 1))
    assert after.amount - before.amount == Decimal("21.56")


def test_a_month_of_seven_children_is_claimed_by_meal():
    """By hand: 154 meals of each kind at 1.66, 3.15 and 0.93 are 255.64 + 485.10 + 143.22."""
    claimed = month_of_22_days(date(2024, 8, 1))
    assert [(total.group, total.count, total.amount) for total in claimed.totals] == [
        ("breakfast", 154, Decimal("255.64")),
        ("snack", 154, Decimal("143.22")),
        ("lunch", 154, Decimal("485.10")),
    ]


def test_two_meals_and_one_supplement_are_the_most_of_a_day():
    """42 USC 1766(f)(2)(B)."""
    child = Eater("a", date(2022, 1, 1), 1)
    claimed = claim_meals([Served(child, date(2024, 9, 3), frozenset(GROUPS))], "contiguous")
    assert claimed.amount == Decimal("3.15") * 2 + Decimal("0.93")


@pytest.mark.parametrize(
    ("day", "tier", "rates"),
    [
        (date(2018, 7, 1), 1, ("1.31", "2.46", "0.73")),
        (date(2019, 7, 1), 2, ("0.48", "1.50", "0.20")),
        (date(2020, 12, 31), 1, ("1.39", "2.61", "0.78")),
        (date(2022, 7, 1), 2, ("1.66", "3.04", "0.97")),
        (date(2023, 6, 30), 1, ("1.66", "3.04", "0.97")),
        (date(2023, 7, 1), 2, ("0.59", "1.88", "0.25")),
        (date(2024, 6, 30), 1, ("1.65", "3.12", "0.93")),
        (date(2025, 6, 30), 2, ("0.60", "1.90", "0.26")),
        (date(2025, 7, 1), 1, ("1.70", "3.22", "0.96")),
    ],
)
def test_the_rates_of_a_day_in_the_contiguous_states(day, tier, rates):
    """Rates from 1 July to 30 June, as listed by sponsors; in 2022-23 every home was paid tier 1 and 0.10 more."""
    rate = food_rules().rate("contiguous", tier, day)
    assert (rate.breakfast, rate.lunch_supper, rate.snack) == tuple(Decimal(each) for each in rates)


def test_the_full_tax_day_of_2025_is_10_75():
    """1.66 + 3.15 + 3.15 + 3 x 0.93, Revenue Procedure 2003-22 with the rates in effect on 31 December 2024."""
    figures = load_rulebook("US", 2025)
    meals = [TAX_FIGURES.get(GROUPS[kind], "meal_snack") for kind in tax_countable(GROUPS)]
    assert sum(figures.figure(code, date(2025, 5, 5)).value for code in meals) == Decimal("10.75")


@pytest.mark.parametrize("year", [2023, 2024, 2025, 2026])
def test_the_standard_rates_of_a_year_are_tier_1_at_the_end_of_the_year_before(year):
    """Revenue Procedure 2003-22."""
    rate = food_rules().rate("contiguous", 1, date(year - 1, 12, 31))
    assert tax_rates(year) == (rate.breakfast, rate.lunch_supper, rate.snack)
