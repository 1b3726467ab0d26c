"""A cost shared by a driver.

OpenStax, Principles of Accounting, volume 2, section 4.2: property tax of 30,000 over 4,000 and 6,000 square feet, read
there. Second-hand set, days attended and equal shares: own arithmetic by the same method. Repeated division of 8.00 by
three: read in the documentation of an open money library.
"""

from decimal import Decimal

from billing.theme_cost import Cost, Kind, run_cost
from provider.money import split

DEAR = [Cost(Kind.CHARGED, "paint", Decimal("100.00"))]


def amounts(parts):
    return [str(part) for part in parts]


def test_a_tax_of_30000_follows_the_area():
    assert amounts(split(Decimal("30000.00"), [4000, 6000])) == ["12000.00", "18000.00"]


def test_a_second_hand_set_for_20_is_split_by_estimated_values():
    assert amounts(split(Decimal("20.00"), [15, 10, 5])) == ["10.00", "6.67", "3.33"]


def test_eight_divided_by_three_leaves_the_last_a_cent_short():
    assert amounts(split(Decimal("8.00"), [1, 1, 1])) == ["2.67", "2.67", "2.66"]


def test_a_run_of_100_is_shared_by_days_attended():
    cost = run_cost(DEAR, days_attended={"a": 20, "b": 20, "c": 12, "d": 8, "e": 20})
    assert amounts(cost.per_attended.values()) == ["25.00", "25.00", "15.00", "10.00", "25.00"]


def test_a_run_of_100_is_shared_equally_by_three_children():
    assert amounts(run_cost(DEAR, enrolled=["a", "b", "c"]).per_child.values()) == ["33.34", "33.33", "33.33"]
