"""Units-of-production depreciation.

OpenStax, Principles of Accounting, volume 1, sections 11.3 (printing press: cost 58,000, salvage 10,000, 960,000 pages)
and 11.5 (disposal: cost 58,000 less 28,800). Figures read there. The textbook counts pages, we count uses: 10,000 pages
stand for one use. The activity kit (48.00 over 60 uses) is our own arithmetic by the same method.
"""

from datetime import date, timedelta
from decimal import Decimal

from curriculum.reuse import Lot, Use, lot_reuse

PRESS = Lot(Decimal("58000.00"), expected_uses=96, residual=Decimal("10000.00"))


def uses(count, **last):
    return [Use(number, date(2025, 1, 1) + timedelta(days=number)) for number in range(count - 1)] + [
        Use(count - 1, date(2025, 1, 1) + timedelta(days=count - 1), **last)
    ]


def test_the_press_costs_500_for_10000_pages():
    assert {run.charge for run in lot_reuse(PRESS, uses(96)).runs} == {Decimal("500.00")}


def test_the_five_years_of_the_press_are_9000_10000_10500_9500_9000():
    charges = [run.charge for run in lot_reuse(PRESS, uses(96)).runs]
    years, start = [], 0
    for pages in (180_000, 200_000, 210_000, 190_000, 180_000):
        years.append(sum(charges[start : start + pages // 10_000]))
        start += pages // 10_000
    assert years == [9000, 10000, 10500, 9500, 9000]


def test_the_press_keeps_its_salvage_however_long_it_runs():
    life = lot_reuse(PRESS, uses(120))
    assert (life.charged, life.value_left) == (Decimal("48000.00"), Decimal("10000.00"))


def test_a_press_lost_at_a_book_value_of_29200_is_written_off_at_29200():
    half_used = Lot(Decimal("58000.00"), expected_uses=5, residual=Decimal("10000.00"))
    life = lot_reuse(half_used, uses(3, broken=1))
    assert (life.charged, life.written_off) == (Decimal("28800.00"), Decimal("29200.00"))


def test_a_kit_of_48_over_60_uses_costs_7_children_5_60():
    life = lot_reuse(Lot(Decimal("48.00"), expected_uses=60), uses(7))
    assert life.charged == Decimal("5.60")
