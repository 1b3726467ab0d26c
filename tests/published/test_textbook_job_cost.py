"""Job costs and disposals of an open accounting textbook, told of a theme run.

OpenStax, Principles of Accounting, first edition 2019, its numbers only. Volume 2 (Managerial), sections 4.2 to 4.6: a
sign maker's job MAC001 with vinyl, inks, grommets and wood, and the month in which three jobs use 1,400 of materials.
Volume 1 (Financial), section 11.5: a press of 58,000 with 28,800 charged is sold for 31,000 or 27,100. The loss of the
whole 29,200 when it breaks is our own reading: sold for nothing.

The book adds labour and overhead to a job; we show hours beside a run and never in it. The monthly overhead list that
prints 21,000 and adds to 21,375, and the job sheet with a rate of 1.50, are misprints and left out.
"""

from datetime import date
from decimal import Decimal

from billing.cost_sheet import lot_shares, reconcile
from billing.theme_cost import Cost, Kind, run_cost
from curriculum.stock import Count, Spread, Stock
from provider.money import ZERO

JULY = date(2025, 7, 1)
MATERIALS = {  # pieces issued, unit cost
    "vinyl": (1, "300.00"),
    "black ink": (2, "50.00"),
    "red ink": (1, "60.00"),
    "gold ink": (1, "60.00"),
    "grommets": (12, "10.00"),
    "wood": (40, "1.50"),
}


def issued(pieces, unit, held=None):
    """What a run bears that uses up `pieces` of a lot of `held`."""
    held = held or pieces
    spread = Spread("MAC001", JULY, Decimal(held), (Count(used_up=Decimal(pieces), returned=Decimal(held - pieces)),))
    stock = Stock(Decimal(held), is_consumable=True, spreads=(spread,))
    ((_run, share),) = lot_shares(stock, Decimal(unit) * held, expected_uses=1)
    return share


def the_sign():
    return run_cost([Cost(Kind.ISSUED, name, issued(*lot).charge) for name, lot in MATERIALS.items()])


def press(**last):
    """Three fifths of its 48,000 have been charged when it goes."""
    runs = [Spread(number, date(2025, number, 1), Decimal(1)) for number in (1, 2)]
    gone = Spread(3, date(2025, 3, 1), Decimal(1), (Count(**last),) if last else ())
    stock = Stock(Decimal(1), spreads=(*runs, gone))
    return dict(lot_shares(stock, Decimal("58000.00"), expected_uses=5, residual=Decimal("10000.00")))[3]


def test_the_materials_of_the_sign_cost_700():
    assert the_sign().total == the_sign().by_kind[Kind.ISSUED] == Decimal("700.00")


def test_the_sign_costs_931_with_the_hours_and_overhead_that_we_keep_beside_it():
    labour = sum(map(Decimal, (15, 15, 18, 18)))
    overhead = labour * Decimal(250_000) / Decimal(100_000)
    assert (labour, overhead, the_sign().total + labour + overhead) == (66, 165, 931)


def test_the_sign_sold_for_2000_leaves_1069():
    assert 2000 - (the_sign().total + 66 + 165) == 1069


def test_three_jobs_use_1400_of_the_materials_of_the_month():
    jobs = {"POR143": "200.00", "MAC001": "700.00", "TRJ441": "500.00"}
    costs = [run_cost([Cost(Kind.ISSUED, job, Decimal(amount))]).total for job, amount in jobs.items()]
    assert (sum(costs), 2500 + 10_500 - sum(costs)) == (1400, 11_600)


def test_materials_left_on_the_shelf_are_no_cost_of_the_job():
    grommets, wood = issued(12, "10.00", held=120), issued(40, "1.50", held=60)
    assert (grommets.charge + wood.charge, grommets.left, wood.left) == (180, 1080, 30)


def test_the_purchases_of_the_job_lead_to_its_cost_by_what_is_left():
    lots = [(share, share.basis) for share in (issued(12, "10.00", held=120), issued(40, "1.50", held=60))]
    found = reconcile(Decimal("520.00"), lots, Decimal("700.00"))
    assert (found.steps[0].result + found.steps[1].result, found.reached) == (1810, 700)


def test_a_press_with_28800_charged_is_worth_29200():
    assert (press().before + press().charge, press().left) == (28_800, 29_200)


def test_a_press_that_breaks_is_a_loss_of_29200():
    broken = press(broken=Decimal(1))
    assert (broken.write_off, broken.left) == (29_200, ZERO)


def test_a_press_sold_for_31000_gains_1800_and_for_27100_loses_2100():
    assert [price - press().left for price in (31_000, 27_100)] == [1800, -2100]
