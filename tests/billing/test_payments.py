"""Money received, what it settles, and who still owes what."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from billing.models import Allocation, Payment
from billing.selectors.balances import family_balances, family_statement, money_overview
from billing.selectors.invoices import invoices_of, open_amount, state
from billing.selectors.payments import payment_facts
from billing.services.invoices import credit_note
from billing.services.payments import AlreadySettled, record_payment, void_payment
from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.periods import DateSpan
from tests.billing.tuition_cast import TODAY, at_once, issue, issue_one, place, two_payers
from tests.factories import lock_year, make_guardian, make_household, make_provider

pytestmark = pytest.mark.django_db


def pay(household, amount, **fields):
    return record_payment(
        **{
            "provider": household.provider,
            "actor": None,
            "today": TODAY,
            "household": household,
            "on": TODAY,
            "amount": Decimal(amount),
            "method": "transfer",
            **fields,
        }
    )


def void(payment, **fields):
    return void_payment(
        **{
            "provider": payment.provider,
            "actor": None,
            "today": TODAY,
            "payment": payment,
            "version": payment.version,
            "reason": "Typed twice",
            **fields,
        }
    )


def two_months():
    """One family with October and November open, 840.00 each."""
    provider = make_provider()
    place(provider)
    return [*issue(provider, month=10).invoices, *issue(provider, month=11).invoices]


def left_on(invoice):
    return open_amount(invoices_of(invoice.provider).get(pk=invoice.pk))


def test_it_settles_the_oldest_first():
    october, november = two_months()
    pay(october.household, "1000.00")
    assert (left_on(october), left_on(november)) == (Decimal("0.00"), Decimal("680.00"))


def test_it_settles_the_chosen_invoice_first():
    october, november = two_months()
    pay(october.household, "1000.00", invoice=november)
    assert (left_on(october), left_on(november)) == (Decimal("680.00"), Decimal("0.00"))


def test_a_payer_settles_own_invoices_before_those_of_others():
    provider, payers = two_payers()
    place(provider, "100.00", payers=payers)
    first, second = issue(provider).invoices
    pay(first.household, "40.00", guardian=second.guardian)
    assert (left_on(first), left_on(second)) == (Decimal("60.00"), Decimal("0.00"))


def test_what_is_over_stays_as_credit_on_account():
    invoice = issue_one(make_provider())
    payment = pay(invoice.household, "900.00")
    assert payment_facts(payment).left == Decimal("60.00")


def test_families_do_not_pay_for_each_other():
    provider = make_provider()
    one = issue_one(provider)
    other = issue_one(provider)
    pay(one.household, "2000.00")
    assert left_on(other) == Decimal("840.00")


def test_money_cannot_come_in_after_today():
    with pytest.raises(DomainError) as caught:
        pay(make_household(make_provider()), "10.00", on=date(2026, 10, 29))
    assert caught.value.field == "on"


@pytest.mark.parametrize("amount", ["0.00", "-5.00"])
def test_a_payment_is_more_than_nothing(amount):
    with pytest.raises(DomainError) as caught:
        pay(make_household(make_provider()), amount)
    assert caught.value.field == "amount"


def test_a_payer_of_another_family_is_refused():
    provider = make_provider()
    stranger = make_guardian(make_household(provider))
    with pytest.raises(DomainError) as caught:
        pay(make_household(provider), "10.00", guardian=stranger)
    assert caught.value.field == "guardian"


def test_an_invoice_of_another_family_is_refused():
    provider = make_provider()
    invoice = issue_one(provider)
    with pytest.raises(DomainError) as caught:
        pay(make_household(provider), "10.00", invoice=invoice)
    assert caught.value.field == "invoice"


def test_a_settled_invoice_cannot_be_paid_again():
    invoice = issue_one(make_provider())
    pay(invoice.household, "840.00")
    with pytest.raises(AlreadySettled):
        pay(invoice.household, "840.00", invoice=invoice)


def test_a_day_in_a_closed_period_is_refused():
    household = make_household(make_provider())
    lock_year(household.provider, 2025)
    with pytest.raises(PeriodLocked):
        pay(household, "10.00", on=date(2025, 12, 31))


def test_a_resent_form_records_one_payment():
    household = make_household(make_provider())
    assert pay(household, "10.00", submission_key="k") == pay(household, "10.00", submission_key="k")
    assert Payment.objects.filter(household=household).count() == 1


def test_a_voided_payment_leaves_its_invoice_open():
    invoice = issue_one(make_provider())
    void(pay(invoice.household, "840.00"))
    assert left_on(invoice) == Decimal("840.00")


def test_a_void_needs_a_reason():
    payment = pay(make_household(make_provider()), "10.00")
    with pytest.raises(DomainError) as caught:
        void(payment, reason=" ")
    assert caught.value.field == "reason"


def test_a_void_in_a_closed_period_is_refused():
    payment = pay(make_household(make_provider()), "10.00")
    lock_year(payment.provider, 2026)
    with pytest.raises(PeriodLocked):
        void(payment)


def test_a_resent_void_is_the_same_and_a_stale_one_is_refused():
    payment = pay(make_household(make_provider()), "10.00")
    void(payment, version=1, submission_key="k")
    assert void(payment, version=1, submission_key="k").voided_at is not None
    with pytest.raises(StaleRow):
        void(payment, version=1)


def test_a_voided_payment_is_not_voided_again():
    payment = pay(make_household(make_provider()), "10.00")
    voided = void(payment)
    with pytest.raises(DomainError):
        void(voided, version=voided.version)


def test_an_invoice_is_overdue_from_the_day_after_it_was_due():
    invoice = issue_one(make_provider())
    row = invoices_of(invoice.provider).get()
    assert (state(row, date(2026, 11, 2)), state(row, date(2026, 11, 3))) == ("open", "overdue")


def test_a_family_balance_is_invoices_less_payments():
    invoice = issue_one(make_provider())
    pay(invoice.household, "300.00")
    (row,) = family_balances(invoice.provider, date(2026, 11, 3))
    assert (row.balance, row.overdue, row.oldest_due) == (Decimal("540.00"), Decimal("540.00"), date(2026, 11, 2))


def test_a_credit_note_and_a_voided_payment_leave_a_balance_of_nothing():
    invoice = issue_one(make_provider())
    void(pay(invoice.household, "300.00"))
    credit_note(provider=invoice.provider, actor=None, today=TODAY, invoice=invoice, reason="Wrong child")
    (row,) = family_balances(invoice.provider, date(2026, 12, 1))
    assert (row.balance, row.overdue, row.oldest_due) == (Decimal("0.00"), Decimal("0.00"), None)


def test_the_statement_closes_with_the_balance():
    invoice = issue_one(make_provider())
    pay(invoice.household, "300.00")
    found = family_statement(invoice.household, DateSpan.year(2026))
    assert (found.closing, len(found.postings)) == (Decimal("540.00"), 2)


def test_the_overview_adds_up_what_is_outstanding_and_what_is_credit():
    provider = make_provider()
    owing = issue_one(provider)
    ahead = make_household(provider)
    pay(owing.household, "40.00")
    pay(ahead, "25.00")
    found = money_overview(provider, date(2026, 11, 3))
    assert (found.outstanding, found.overdue, found.late_families, found.credit) == (
        Decimal("800.00"),
        Decimal("800.00"),
        1,
        Decimal("25.00"),
    )


def test_the_overview_asks_as_often_for_five_families_as_for_one():
    provider = make_provider()
    issue_one(provider)
    with CaptureQueriesContext(connection) as few:
        money_overview(provider, TODAY)
    for _number in range(4):
        pay(issue_one(provider).household, "10.00")
    with CaptureQueriesContext(connection) as many:
        money_overview(provider, TODAY)
    assert len(many) == len(few)


@pytest.mark.django_db(transaction=True)
def test_two_payments_at_once_never_settle_more_than_is_open():
    invoice = issue_one(make_provider())
    at_once(*[lambda: pay(invoice.household, "500.00")] * 2)
    assert sum(row.amount for row in Allocation.objects.filter(invoice=invoice)) == Decimal("840.00")
