"""The share of the home, from rooms and recorded hours."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from billing.models import ReceiptLine, ShareBasis, ShareRule, TaxBasis, TaxYear
from billing.selectors.home_share import HomeShareOfYear, Status, business_amount, share_for, shares_for
from provider.models import Country, OpeningHours, RoomUse, Use
from tests.factories import make_attendance, make_child, make_household, make_provider, make_room, make_work

pytestmark = pytest.mark.django_db
AFTER = date(2026, 2, 1)
MONDAY = date(2025, 3, 3)


@pytest.fixture
def provider():
    return make_provider()


@pytest.fixture
def child(provider):
    return make_child(make_household(provider))


def test_it_multiplies_area_by_recorded_hours(provider, child):
    make_room(provider, "400.00", Use.REGULAR)
    make_attendance(child, MONDAY, 8, 17)
    home = share_for(provider, 2025, AFTER)
    # 9 ÷ 8,760 = 0.10 %; 400 ÷ 1,600 = 25 %; each rounded to two decimals of a percent.
    assert (home.status, home.share) == (Status.RECORDED, Decimal("0.0003"))
    assert home.hours.total == Decimal("9.00")
    assert home.steps[0].expression == "9 ÷ 8,760"


def test_it_counts_two_children_at_once_as_one_hour(provider, child):
    make_attendance(child, MONDAY, 8, 12)
    make_attendance(make_child(child.household), MONDAY, 10, 15)
    assert share_for(provider, 2025, AFTER).hours.care == Decimal("7.00")


def test_it_adds_only_work_at_home_while_no_child_is_here(provider, child):
    make_attendance(child, MONDAY, 8, 17)
    make_work(provider, MONDAY, 16, 19)
    make_work(provider, MONDAY, 19, 21, at_home=False)
    hours = share_for(provider, 2025, AFTER).hours
    assert (hours.work_recorded, hours.work, hours.total) == (Decimal("3.00"), Decimal("2.00"), Decimal("11.00"))


def test_it_leaves_out_voided_hours_and_those_of_own_children(provider, child):
    own = make_child(child.household, is_own_child=True)
    make_attendance(own, MONDAY, 0, 23)
    voided = make_attendance(child, MONDAY, 8, 17)
    voided.voided_at = timezone.now()
    voided.save()
    make_work(provider, MONDAY, 18, 20, voided_at=timezone.now())
    assert share_for(provider, 2025, AFTER).hours.total == Decimal("0.00")


def test_it_reports_stays_that_nobody_signed_out(provider, child):
    make_attendance(child, MONDAY, 8, None)
    hours = share_for(provider, 2025, AFTER).hours
    assert (hours.total, hours.open_stays) == (Decimal("0.00"), 1)


def test_it_does_not_report_a_child_who_is_still_here_today(provider, child):
    make_attendance(child, MONDAY, 8, None)
    assert share_for(provider, 2025, MONDAY).hours.open_stays == 0


def test_it_cuts_hours_at_local_midnight_of_the_new_year(provider):
    make_work(provider, date(2024, 12, 31), 22, 23)
    entry = make_work(provider, date(2024, 12, 31), 22, 23)
    entry.ended_at = entry.ended_at.replace(day=1, month=1, year=2025, hour=3)
    entry.save()
    assert share_for(provider, 2024, AFTER).hours.total == Decimal("2.00")
    assert share_for(provider, 2025, AFTER).hours.total == Decimal("3.00")


def test_it_weighs_a_room_that_changed_use_by_days(provider, child):
    room = make_room(provider, "365.00", Use.NONE)
    RoomUse.objects.create(provider=provider, room=room, use=Use.EXCLUSIVE, start=date(2025, 12, 22))
    make_attendance(child, MONDAY)
    rooms = share_for(provider, 2025, AFTER).rooms
    assert [(each.use, each.days, each.area) for each in rooms] == [
        (Use.NONE, 355, Decimal("355.00")),
        (Use.EXCLUSIVE, 10, Decimal("10.00")),
    ]


def test_it_counts_available_hours_from_the_first_day_of_business():
    provider = make_provider(opened_on=date(2025, 12, 1))
    make_room(provider)
    make_attendance(make_child(make_household(provider)), date(2025, 12, 1), 0, 10)
    assert share_for(provider, 2025, AFTER).steps[0].expression == "10 ÷ 744"


def test_it_uses_the_stated_share_while_the_year_runs(provider, child):
    make_room(provider)
    make_attendance(child, MONDAY)
    TaxYear.objects.create(provider=provider, year=2025, basis=TaxBasis.CASH, provisional_home_share=Decimal("0.2500"))
    running, over = share_for(provider, 2025, date(2025, 6, 1)), share_for(provider, 2025, AFTER)
    assert (running.status, running.share, running.stated) == (Status.PROVISIONAL, Decimal("0.2500"), True)
    assert (over.status, over.share, over.stated) == (Status.RECORDED, Decimal("0.0003"), False)


def test_it_takes_the_records_so_far_when_no_share_was_stated(provider, child):
    make_room(provider, "1600.00")
    make_attendance(child, date(2025, 1, 1), 0, 12)
    running = share_for(provider, 2025, date(2025, 1, 2))
    assert (running.status, running.share) == (Status.PROVISIONAL, Decimal("0.2500"))


def test_it_says_what_is_missing_when_the_share_is_unknown(provider):
    make_room(provider)
    home = share_for(provider, 2025, AFTER)
    assert (home.status, home.share, home.problem) == (Status.UNKNOWN, None, "No hours are recorded in this year.")
    assert "not open" in share_for(provider, 2023, AFTER).problem


def test_it_says_that_the_rooms_are_larger_than_the_home(provider, child):
    make_room(provider, "1700.00")
    make_attendance(child, MONDAY)
    assert "100" in share_for(provider, 2025, AFTER).problem


def test_it_takes_canadas_usual_week_from_the_opening_hours():
    provider = make_provider(Country.CANADA, home_area=Decimal("100.00"))
    make_room(provider, "35.00")
    home = share_for(provider, 2025, AFTER)
    assert home.steps[0].expression == "((10 ÷ 24) × (35 ÷ 100)) × (5 ÷ 7)"
    assert home.share.quantize(Decimal("0.000001")) == Decimal("0.104167")


def test_it_weighs_canadian_opening_hours_that_changed_in_the_year():
    provider = make_provider(Country.CANADA)
    make_room(provider, "40.00")
    OpeningHours.objects.filter(provider=provider, weekday=4).update(end=date(2025, 1, 1))
    assert "(4 ÷ 7)" in share_for(provider, 2025, AFTER).steps[0].expression


def test_it_asks_the_same_number_of_queries_for_more_years_and_records(provider, child, django_assert_num_queries):
    make_room(provider)
    for day in range(3, 8):
        make_attendance(child, date(2025, 3, day))
        make_attendance(child, date(2024, 3, day))
    with django_assert_num_queries(4):
        shares_for(provider, [2024, 2025, 2026], AFTER)


def test_it_sees_no_other_business(provider, child):
    make_room(provider)
    make_attendance(child, MONDAY)
    assert share_for(make_provider(), 2025, AFTER).hours.total == Decimal("0.00")


@pytest.mark.parametrize(
    ("fields", "business"),
    [
        ({"share_rule": ShareRule.BUSINESS}, "10.01"),
        ({"share_rule": ShareRule.PERSONAL}, "0.00"),
        ({"share_rule": ShareRule.SHARED, "share_basis": ShareBasis.FIXED, "share": Decimal("0.5000")}, "5.01"),
        ({"share_rule": ShareRule.SHARED, "share_basis": ShareBasis.HOME}, "2.57"),
    ],
)
def test_it_divides_a_line_into_business_and_personal(fields, business):
    line = ReceiptLine(cost=Decimal("10.01"), **fields)
    amount = business_amount(line, HomeShareOfYear(2025, Decimal("0.2568"), Status.RECORDED))
    assert (amount.business, amount.business + amount.personal) == (Decimal(business), line.cost)


def test_it_divides_nothing_while_the_home_share_is_unknown():
    line = ReceiptLine(cost=Decimal("10.00"), share_rule=ShareRule.SHARED, share_basis=ShareBasis.HOME)
    amount = business_amount(line, HomeShareOfYear(2025, None, Status.UNKNOWN))
    assert (amount.business, amount.personal) == (None, None)


def choose(provider, counts):
    TaxYear.objects.create(provider=provider, year=2025, basis=TaxBasis.CASH, counts_preparation=counts)


@pytest.mark.parametrize(("counts", "hours"), [(None, "11"), (True, "11"), (False, "9")])
def test_work_around_the_childrens_time_counts_in_the_united_states_unless_she_says_no(provider, child, counts, hours):
    make_room(provider, "400.00", Use.REGULAR)
    make_attendance(child, MONDAY, 8, 17)
    make_work(provider, MONDAY, 16, 19)
    choose(provider, counts)
    assert share_for(provider, 2025, AFTER).steps[0].expression == f"{hours} ÷ 8,760"


@pytest.mark.parametrize("counts", [None, False])
def test_work_does_not_count_in_canada_unless_she_says_so(counts):
    provider = make_provider(Country.CANADA)
    make_room(provider, "40.00", Use.REGULAR)
    without = share_for(provider, 2025, AFTER).share
    make_work(provider, MONDAY, 18, 22)
    choose(provider, counts)
    assert share_for(provider, 2025, AFTER).share == without


def test_counted_work_makes_the_day_longer_in_canada():
    provider = make_provider(Country.CANADA)
    make_room(provider, "40.00", Use.REGULAR)
    child = make_child(make_household(provider))
    # Of 17:00 to 21:30: half an hour lies in the opening hours, half an hour a child was still here.
    entry = make_work(provider, MONDAY, 17, 21)
    entry.ended_at = entry.ended_at.replace(minute=30)
    entry.save()
    stay = make_attendance(child, MONDAY, 8, 18)
    stay.save()
    choose(provider, True)
    step = share_for(provider, 2025, AFTER).steps[0]
    # 260.71 business days in a usual year of 365 days; 3.5 hours over them are 0.01 a day.
    assert (step.expression, step.result, step.unit) == ("10 + 3.5 ÷ 260.71", Decimal("10.01"), "hours")


def test_shopping_never_counts_even_when_ticked_at_home(provider):
    make_room(provider)
    make_work(provider, MONDAY, 18, 20, kind="shop", at_home=True)
    make_work(provider, MONDAY, 20, 21)
    assert share_for(provider, 2025, AFTER).hours.total == Decimal("1.00")
