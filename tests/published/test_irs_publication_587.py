"""Day care in the home, United States.

IRS Publication 587, "Daycare Facility", basement example. The hours (12 x 5 x 50), the 2023 edition's $500 paint job
and the rule for a room used throughout the business day were read (the 2001 and 2013 editions on public copies); the
areas (1,600 of 3,200) and the printed results 17.13% and 20.55% are FROM MEMORY, their arithmetic recomputed.
Instructions for Schedule C, 2016 and 2022, simplified-method worksheet: 250 x 12 + 50 x 8 hours, read.
Revenue Ruling 92-3: 11 hours, 250 days, 1,600 square feet read; 1,200 square feet FROM MEMORY.
Mixed exclusive and shared rooms: rule from the instructions for Form 8829; figures from a providers' association.
"""

from datetime import date
from decimal import Decimal

import pytest

from billing.business_use import Room, hours_available, us_business_use
from billing.splitting import business_part
from provider.money import round_half_up
from provider.periods import DateSpan

YEAR, LEAP_YEAR = DateSpan.year(2025), DateSpan.year(2024)


def home_use(hours, home, *rooms, span=YEAR):
    return us_business_use(
        [Room(name, Decimal(area), use) for name, area, use in rooms],
        home_area=Decimal(home),
        hours_used=Decimal(hours),
        available=hours_available(span),
    )


BASEMENT = ("basement", 1600, "regular")


def test_a_year_has_8760_hours_and_a_leap_year_8784():
    assert (hours_available(YEAR), hours_available(LEAP_YEAR)) == (8760, 8784)


def test_the_basement_is_used_34_25_percent_of_the_time():
    assert home_use(12 * 5 * 50, 3200, BASEMENT).time_share == Decimal("0.3425")


def test_painting_the_basement_for_500_is_deductible_at_171_25():
    time_share = home_use(3000, 3200, BASEMENT).time_share
    assert business_part(Decimal("500.00"), time_share)[0] == Decimal("171.25")


def test_the_basement_makes_17_13_percent_of_the_home():
    assert home_use(3000, 3200, BASEMENT).share == Decimal("0.1713")


def test_the_basement_in_a_leap_year_makes_17_08_percent():
    use = home_use(3000, 3200, BASEMENT, span=LEAP_YEAR)
    assert (use.time_share, use.share) == (Decimal("0.3415"), Decimal("0.1708"))


@pytest.mark.parametrize(("span", "share"), [(YEAR, "0.2055"), (LEAP_YEAR, "0.2049")])
def test_a_nap_room_used_part_of_every_day_counts_for_the_whole_day(span, share):
    assert home_use(3000, 3200, BASEMENT, ("nap room", 320, "regular"), span=span).share == Decimal(share)


def test_an_occasionally_used_room_counts_for_nothing():
    assert home_use(3000, 3200, BASEMENT, ("guest room", 320, "occasional")).share == Decimal("0.1713")


def test_weekdays_and_saturdays_make_3400_hours_and_38_81_percent():
    assert home_use(250 * 12 + 50 * 8, 3200, BASEMENT).time_share == Decimal("0.3881")


def test_revenue_ruling_92_3_gives_25_68_percent_when_rounded_only_at_the_end():
    use = us_business_use(
        [Room("rooms used regularly", Decimal(1200), "regular")],
        home_area=Decimal(1600),
        hours_used=Decimal(250 * (11 + 1)),
        available=hours_available(YEAR),
        rounding="unrounded",
    )
    assert round_half_up(use.share, 4) == Decimal("0.2568")


def test_an_exclusive_room_and_shared_rooms_make_46_percent():
    use = home_use(3504, 2000, ("playroom", 200, "exclusive"), ("rest", 1800, "regular"))
    assert (use.time_share, use.share) == (Decimal("0.4000"), Decimal("0.4600"))


def test_a_business_that_began_in_july_has_the_hours_of_its_days():
    assert hours_available(DateSpan(date(2025, 7, 1), date(2026, 1, 1))) == 184 * 24


def test_a_week_of_168_hours_gives_another_share_than_the_year():
    week = us_business_use(
        [Room("basement", Decimal(1600), "regular")],
        home_area=Decimal(3200),
        hours_used=Decimal(12 * 5),
        available=hours_available(DateSpan.week(date(2025, 3, 3))),
    )
    assert week.time_share == Decimal("0.3571")
