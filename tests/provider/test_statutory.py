"""Days counted by hand from the rule of each holiday, 5 USC 6103 and Ontario's Employment Standards Act, 2000."""

from datetime import date, timedelta

import pytest

from provider.statutory import UnknownPlace, statutory_holidays


def days(country, region, year):
    return {holiday.day: holiday.name for holiday in statutory_holidays(country, region, year)}


def weekday_of_month(year, month, weekday, number):
    first = date(year, month, 1)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (number - 1))


def test_the_federal_holidays_of_the_united_states_are_known():
    """5 USC 6103."""
    assert set(days("US", "", 2025)) == {
        date(2025, 1, 1),
        weekday_of_month(2025, 1, 0, 3),
        weekday_of_month(2025, 2, 0, 3),
        date(2025, 5, 26),
        date(2025, 6, 19),
        date(2025, 7, 4),
        weekday_of_month(2025, 9, 0, 1),
        weekday_of_month(2025, 10, 0, 2),
        date(2025, 11, 11),
        weekday_of_month(2025, 11, 3, 4),
        date(2025, 12, 25),
    }


def test_a_holiday_on_a_saturday_is_observed_on_the_friday_before():
    """5 USC 6103(b): 4 July 2026 is a Saturday."""
    found = days("US", "", 2026)
    assert found[date(2026, 7, 4)] == "Independence Day"
    assert found[date(2026, 7, 3)] == "Independence Day (observed)"


@pytest.mark.parametrize("year", [2024, 2025, 2026, 2027])
def test_family_day_in_ontario_is_the_third_monday_of_february(year):
    """Ontario, Employment Standards Act, 2000, section 1."""
    assert days("CA", "ON", year)[weekday_of_month(year, 2, 0, 3)] == "Family Day"


def test_the_province_decides_about_family_day():
    third_monday = date(2026, 2, 16)
    assert third_monday not in days("CA", "QC", 2026)
    assert third_monday in days("CA", "BC", 2026)


def test_the_holidays_are_in_order_and_of_the_year_asked_for():
    found = [holiday.day for holiday in statutory_holidays("CA", "ON", 2027)]
    assert found == sorted(found)
    assert {day.year for day in found} == {2027}


def test_the_names_may_be_asked_for_in_french():
    assert "Jour de l'an" in {holiday.name for holiday in statutory_holidays("CA", "QC", 2026, "fr")}


@pytest.mark.parametrize(("country", "region"), [("CA", "XX"), ("US", "ON"), ("ZZ", "")])
def test_an_unknown_place_is_refused(country, region):
    with pytest.raises(UnknownPlace):
        statutory_holidays(country, region, 2026)
