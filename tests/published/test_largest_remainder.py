"""Dividing a total by largest remainder (Hamilton, Hare-Niemeyer).

Cases read in the documentation of two open packages, `apportionment` 0.0.0.4 (Haskell) and `largest-remainder`
(Python). A third, 100 over 1:10:100 noted down as 1, 9, 91, adds up to 101 and is left out.
"""

from decimal import Decimal

import pytest

from provider.money import from_cents, split


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        (100, [1, 2, 3], [17, 33, 50]),
        (10, [1, 2, 3], [2, 3, 5]),
    ],
)
def test_published_divisions_hold_in_cents(total, weights, parts):
    assert split(from_cents(total), weights) == [from_cents(part) for part in parts]


def test_one_divided_by_three_gives_the_odd_cent_to_the_first():
    assert split(Decimal("1.00"), [1, 1, 1]) == [Decimal("0.34"), Decimal("0.33"), Decimal("0.33")]
