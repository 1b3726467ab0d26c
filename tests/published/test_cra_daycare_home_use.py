"""Day care in the home, Canada.

CRA, "Daycare in your home", business-use-of-home expenses (canada.ca): both examples read there; CRA rounds to the
cent after each step, the unrounded chain (604.17) is derived. CRA, T2125 part 7 example (page of 2023-06-21), read.
"""

from decimal import Decimal

from billing.business_use import RecordedHours, Room, UsualWeek, canada_business_use

WEEKDAYS_TEN_HOURS = UsualWeek(Decimal(10), Decimal(5), 365, 365)


def home_use(home, *rooms, time=WEEKDAYS_TEN_HOURS, rounding="published"):
    rooms = [Room(name, Decimal(area), use) for name, area, use in rooms]
    return canada_business_use(rooms, home_area=Decimal(home), time=time, rounding=rounding)


def test_20_of_120_square_metres_only_for_daycare_claim_1000_of_6000():
    assert home_use(120, ("playroom", 20, "exclusive")).claim(Decimal("6000.00")) == Decimal("1000.00")


def test_35_of_100_square_metres_shared_claim_845_83_and_then_604_16_of_5800():
    steps = home_use(100, ("living room", 35, "regular")).claim_steps(Decimal("5800.00"))
    assert [step.result for step in steps] == [Decimal("845.83"), Decimal("604.16"), Decimal("604.16")]


def test_rounded_once_the_shared_rooms_claim_604_17():
    use = home_use(100, ("living room", 35, "regular"), rounding="unrounded")
    assert use.claim(Decimal("5800.00")) == Decimal("604.17")


def test_hours_from_a_log_give_the_claim_of_the_usual_week_rounded_once():
    log = RecordedHours(Decimal(10 * 5 * 52), 364, 364)
    use = home_use(100, ("living room", 35, "regular"), time=log)
    assert use.claim(Decimal("5800.00")) == Decimal("604.17")


def test_form_t2125_part_7_keeps_1330_of_13300_when_162_of_180_are_personal():
    use = home_use(180, ("playroom", 18, "exclusive"), ("rest", 162, "none"))
    assert use.claim(Decimal("13300.00")) == Decimal("1330.00")
