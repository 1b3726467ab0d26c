"""The basis of what the household owned before the business used it.

Publication 551 (United States): cost 160,000 with 25,000 of land apart, improvements 20,000, casualty loss 2,000, so an
adjusted basis of 178,000; worth 180,000 on the day of which 15,000 is land, so 165,000: basis 165,000.
Canada Revenue Agency, change in use: value, when it lies below the cost; else cost and half of the difference.
DERIVED cases were worked out by hand from these rules.
"""

from decimal import Decimal

import pytest

from curriculum.conversion import NoConversionRule, converted_basis


@pytest.mark.parametrize(
    ("cost", "fair_value", "basis"),
    [
        ("178000.00", "165000.00", "165000.00"),  # Publication 551
        ("260.00", "180.00", "180.00"),  # DERIVED: a play kitchen
        ("180.00", "260.00", "180.00"),  # DERIVED: a rise in value is not taken
        ("90.00", "90.00", "90.00"),  # DERIVED
    ],
)
def test_in_the_united_states_the_lower_of_cost_and_value_counts(cost, fair_value, basis):
    assert converted_basis("US", Decimal(cost), Decimal(fair_value)).basis == Decimal(basis)


@pytest.mark.parametrize(
    ("cost", "fair_value", "basis"),
    [
        ("400.00", "250.00", "250.00"),  # DERIVED from the chart: below the cost
        ("400.00", "500.00", "450.00"),  # DERIVED: half of what lies above
        ("100.00", "200.01", "150.01"),  # DERIVED: half a cent goes up, once
        ("90.00", "90.00", "90.00"),  # DERIVED: nothing above
        ("0.00", "50.00", "25.00"),  # DERIVED
    ],
)
def test_in_canada_half_of_what_the_value_lies_above_the_cost_counts(cost, fair_value, basis):
    assert converted_basis("CA", Decimal(cost), Decimal(fair_value)).basis == Decimal(basis)


@pytest.mark.parametrize("country", ["US", "CA"])
def test_the_arithmetic_ends_with_the_basis_and_names_its_source(country):
    found = converted_basis(country, Decimal("400.00"), Decimal("500.00"))

    assert found.steps[-1].result == found.basis
    assert found.rule.source


def test_a_country_without_a_rule_is_refused():
    with pytest.raises(NoConversionRule):
        converted_basis("FR", Decimal("1.00"), Decimal("1.00"))


@pytest.mark.parametrize(("cost", "fair_value"), [("-1.00", "1.00"), ("1.00", "-1.00")])
def test_negative_amounts_are_refused(cost, fair_value):
    with pytest.raises(ValueError, match="negative"):
        converted_basis("US", Decimal(cost), Decimal(fair_value))
