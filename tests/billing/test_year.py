"""A calendar year gathered for the tax preparer."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from billing.models import Series, TaxBasis, TaxYear
from billing.selectors.home_share import Status
from billing.selectors.year import year_result, years_of
from provider.models import Country
from provider.money import ZERO
from tests.billing.books import HOME, PERSONAL, file_receipt, issue, make_year, pay
from tests.factories import lock_year, make_guardian, make_household, make_provider

pytestmark = pytest.mark.django_db
AFTER = date(2026, 2, 1)


@pytest.fixture
def provider():
    return make_provider()


@pytest.fixture
def guardian(provider):
    return make_guardian(make_household(provider))


def test_it_tells_earned_from_received(provider, guardian):
    invoice = issue(guardian, 1, date(2025, 12, 1), date(2026, 1, 1), "800.00")
    pay(invoice, date(2026, 1, 3), "800.00")
    before, after = (year_result(provider, year, AFTER) for year in (2025, 2026))
    assert (before.earned_total, before.received_total) == (Decimal("800.00"), ZERO)
    assert (after.earned_total, after.received_total) == (ZERO, Decimal("800.00"))


def test_it_earns_an_invoice_issued_ahead_in_the_year_of_its_period(provider, guardian):
    issue(guardian, 1, date(2026, 1, 1), date(2026, 2, 1), "800.00", issued_on=date(2025, 12, 28))
    assert year_result(provider, 2025, AFTER).earned_total == ZERO


def test_it_takes_back_what_a_credit_note_corrects(provider, guardian):
    invoice = issue(guardian, 1, date(2025, 3, 1), date(2025, 4, 1), "800.00")
    issue(guardian, 1, date(2025, 3, 1), date(2025, 4, 1), "-800.00", series=Series.CREDIT, corrects=invoice)
    assert year_result(provider, 2025, AFTER).earned_total == ZERO


def test_it_leaves_out_voided_payments_and_receipts(provider, guardian):
    invoice = issue(guardian, 1, date(2025, 3, 1), date(2025, 4, 1), "800.00")
    pay(invoice, date(2025, 3, 2), "800.00", voided_at=timezone.now())
    file_receipt(provider, date(2025, 3, 2), ("office", "10.00", {}), voided_at=timezone.now())
    result = year_result(provider, 2025, AFTER)
    assert (result.received_total, result.deductible, result.receipts) == (ZERO, ZERO, ())


def test_it_counts_bills_by_the_day_paid_in_the_united_states(provider):
    file_receipt(provider, date(2025, 12, 30), ("office", "15.00", {}), paid_date=date(2026, 1, 4))
    assert year_result(provider, 2025, AFTER).deductible == ZERO
    assert year_result(provider, 2026, AFTER).deductible == Decimal("15.00")


def test_it_counts_bills_by_the_day_on_the_bill_in_canada():
    provider = make_provider(Country.CANADA)
    file_receipt(provider, date(2025, 12, 30), ("office", "15.00", {}), paid_date=date(2026, 1, 4))
    assert year_result(provider, 2025, AFTER).deductible == Decimal("15.00")


def test_it_follows_the_basis_chosen_for_the_year(provider):
    TaxYear.objects.create(provider=provider, year=2025, basis=TaxBasis.ACCRUAL)
    file_receipt(provider, date(2025, 12, 30), ("office", "15.00", {}), paid_date=date(2026, 1, 4))
    result = year_result(provider, 2025, AFTER)
    assert (result.is_cash, result.deductible) == (False, Decimal("15.00"))


def test_it_counts_a_receipt_without_a_day_of_payment_on_its_own_day(provider):
    file_receipt(provider, date(2025, 3, 2), ("office", "15.00", {}), paid_date=None)
    assert year_result(provider, 2025, AFTER).deductible == Decimal("15.00")


def test_it_puts_categories_on_their_tax_lines_in_the_order_of_the_form(provider):
    file_receipt(
        provider,
        date(2025, 3, 2),
        ("craft_supplies", "10.00", {}),
        ("advertising", "4.00", {}),
        ("toys_books", "3.00", {}),
        ("toys_books", "99.00", PERSONAL),
    )
    totals = [(str(each.line.number), each.deductible) for each in year_result(provider, 2025, AFTER).tax_lines]
    assert totals == [("8", Decimal("4.00")), ("22", Decimal("13.00"))]


def test_it_keeps_what_is_not_computed_outside_the_deductible_total(provider):
    make_year(provider)
    result = year_result(provider, 2025, AFTER)
    assert [(str(group.name), group.recorded) for group in result.not_computed] == [
        ("Food", Decimal("64.20")),
        ("Vehicle", Decimal("40.00")),
        ("Equipment", Decimal("210.00")),
    ]
    assert not {"food", "vehicle", "furniture_equipment"} & {
        each.line.category for total in result.tax_lines for each in total.spent
    }


def test_it_keeps_a_shared_line_outside_while_the_home_share_is_unknown(provider):
    file_receipt(provider, date(2025, 3, 2), ("cleaning", "12.00", HOME))
    result = year_result(provider, 2025, AFTER)
    assert (result.home.status, result.deductible, result.not_computed_total) == (
        Status.UNKNOWN,
        ZERO,
        Decimal("12.00"),
    )
    assert result.receipts[0].waiting == Decimal("12.00")


def test_every_receipt_divides_into_business_personal_and_waiting(provider):
    make_year(provider)
    for each in year_result(provider, 2025, AFTER).receipts:
        assert each.business + each.personal + each.waiting == each.receipt.total


def test_it_records_but_gives_no_tax_output_without_rules(provider, guardian):
    issue(guardian, 1, date(2024, 3, 1), date(2024, 4, 1), "800.00")
    old = make_provider(opened_on=date(2001, 1, 1))
    file_receipt(old, date(2001, 3, 2), ("office", "15.00", {}))
    result = year_result(old, 2001, AFTER)
    assert (result.rules, result.tax_lines, len(result.receipts)) == (None, (), 1)


def test_it_says_that_a_running_year_may_change(provider):
    cautions = year_result(provider, 2026, AFTER).cautions
    assert any("still running" in caution for caution in cautions)


def test_it_lists_the_years_of_the_business_with_their_state(provider):
    lock_year(provider, 2024)
    years = years_of(provider, AFTER)
    assert [(each.year, each.is_over, each.lock is not None) for each in years] == [
        (2026, False, False),
        (2025, True, False),
        (2024, True, True),
    ]


def test_it_asks_the_same_number_of_queries_for_a_fuller_year(provider, django_assert_max_num_queries):
    make_year(provider)
    for day in range(1, 29):
        file_receipt(provider, date(2025, 5, day), ("cleaning", "12.00", HOME), ("office", "1.00", {}))
    with django_assert_max_num_queries(24):
        year_result(provider, 2025, AFTER)


def test_it_sees_no_other_business(provider):
    make_year(make_provider())
    result = year_result(provider, 2025, AFTER)
    assert (result.earned, result.received, result.receipts, result.themes) == ((), (), (), ())
