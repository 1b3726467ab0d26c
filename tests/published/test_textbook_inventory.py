"""Inventory and job cost examples of an open accounting textbook.

OpenStax, Principles of Accounting, volume 1 (Financial), chapter 10: 150 units at 21, 120 sold, 225 bought at 27, 180
sold, 210 bought at 33, 285 left; volume 1, sections 4.3 (supplies) and 6.2 (shrinkage); volume 2 (Managerial), sections
4.2 and 4.4 (a job of a sign maker). First edition, 2019; its numbers only.

The book derives unit costs rounded to the cent (26.29, 31.24) and so prints 7,253 and 8,902 for the moving average and
8,283 for the periodic one; its text gives 4,732 and its table 4,733 for the cost of the 180 units. We keep totals, so
the unrounded figures are tested: 7,252.94, 8,902.06 and 4,732.94. The job sheet pictured with a rate of 1.50 is left
out: 165 of overhead on 66 of labour is 2.50. The bill of materials is our own example.
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from curriculum.costing import Method, Shelf, on_shelves, take
from curriculum.recipes import Line, make_or_buy, needs

BOUGHT = [(date(2025, 7, 1), 150, 21), (date(2025, 7, 10), 225, 27), (date(2025, 7, 15), 210, 33)]


def shelf(number):
    on, came, unit = BOUGHT[number]
    cost = Decimal(came * unit).quantize(Decimal("0.01"))
    return Shelf(number, on, Decimal(came), cost, Decimal(came), cost)


def whole(name, quantity, unit):
    cost = Decimal(quantity) * Decimal(unit)
    return Shelf(name, date(2025, 7, 1), Decimal(quantity), cost, Decimal(quantity), cost)


def sell(method, stock, quantity):
    """The cost of what is sold, and the stock after it."""
    taken = {each.lot: each for each in take(method, stock, Decimal(quantity))}
    rest = [
        replace(each, left=each.left - taken[each.lot].quantity, value=each.value - taken[each.lot].cost)
        if each.lot in taken
        else each
        for each in stock
    ]
    return sum(each.cost for each in taken.values()), rest


def worth(stock):
    return sum(each.value for each in stock)


def perpetual(method):
    first, stock = sell(method, [shelf(0)], 120)
    second, stock = sell(method, [*stock, shelf(1)], 180)
    return first, second, [*stock, shelf(2)]


def test_the_goods_available_cost_16155():
    assert worth([shelf(0), shelf(1), shelf(2)]) == Decimal("16155.00")


def test_first_in_first_out_issues_7200_and_leaves_8955():
    first, second, stock = perpetual(Method.FIFO)
    assert (first, second) == (Decimal("2520.00"), Decimal("4680.00"))
    assert (first + second, worth(stock), on_shelves(stock)) == (Decimal("7200.00"), Decimal("8955.00"), 285)


def test_first_in_first_out_is_the_same_when_counted_at_the_end():
    cost, stock = sell(Method.FIFO, [shelf(0), shelf(1), shelf(2)], 300)
    assert (cost, worth(stock)) == (Decimal("7200.00"), Decimal("8955.00"))


def test_the_moving_average_issues_7252_94_and_leaves_8902_06():
    first, second, stock = perpetual(Method.AVERAGE)
    assert (first, second) == (Decimal("2520.00"), Decimal("4732.94"))
    assert (first + second, worth(stock), on_shelves(stock)) == (Decimal("7252.94"), Decimal("8902.06"), 285)


def test_the_moving_average_rounds_to_the_units_that_the_book_prints():
    _first, second, stock = perpetual(Method.AVERAGE)
    assert round(second / 180, 2) == Decimal("26.29")
    assert round(worth(stock) / 285, 2) == Decimal("31.24")


def test_the_average_at_the_end_issues_8284_62_and_leaves_7870_38():
    cost, stock = sell(Method.AVERAGE, [shelf(0), shelf(1), shelf(2)], 300)
    assert (cost, worth(stock)) == (Decimal("8284.62"), Decimal("7870.38"))


def test_supplies_counted_at_1200_of_8500_cost_7300():
    assert sell(Method.FIFO, [whole("supplies", 8500, "1.00")], 8500 - 1200)[0] == Decimal("7300.00")


def test_a_count_of_200000_where_the_books_say_300000_takes_100000_off():
    cost, stock = sell(Method.FIFO, [whole("goods", 300_000, "1.00")], 100_000)
    assert (cost, worth(stock)) == (Decimal("100000.00"), Decimal("200000.00"))


def test_the_materials_of_the_sign_cost_520_and_180_so_700():
    vinyl = [("vinyl", 1, "300.00"), ("black ink", 2, "50.00"), ("red ink", 1, "60.00"), ("gold ink", 1, "60.00")]
    frame = [("grommets", 12, "10.00"), ("wood", 40, "1.50")]
    printed, mounted = (sum(sell(Method.FIFO, [whole(*each)], each[1])[0] for each in part) for part in (vinyl, frame))
    assert (printed, mounted, printed + mounted) == (Decimal("520.00"), Decimal("180.00"), Decimal("700.00"))


def test_the_job_of_931_is_its_700_of_materials_with_labour_and_overhead_kept_apart():
    labour = Decimal("66.00")
    overhead = labour * Decimal("2.50")
    sign = make_or_buy(Decimal("700.00"), Decimal(1), 60, bought=Decimal("2000.00"), rate=labour)
    assert (sign.made, sign.hours_value) == (Decimal("700.00"), labour)
    assert sign.made + labour + overhead == Decimal("931.00")
    assert Decimal("2000.00") - (sign.made + labour + overhead) == Decimal("1069.00")


def test_a_letter_game_costs_3_25_and_2_00_when_the_letters_change():
    prices = {"paper": "0.12", "pouch": "0.20", "tub": "1.25", "ink": "0.40"}
    lines = [
        Line("paper", Decimal(5), child_specific=True),
        Line("pouch", Decimal(5), child_specific=True),
        Line("tub", Decimal(1)),
        Line("ink", Decimal(1), child_specific=True),
    ]

    def cost(wanted):
        return sum(sell(Method.FIFO, [whole(name, 50, prices[name])], count)[0] for name, count in wanted.items())

    assert cost(needs(lines, Decimal(1), Decimal(1))) == Decimal("3.25")
    assert cost(needs(lines, Decimal(1), Decimal(1), only_child_specific=True)) == Decimal("2.00")
