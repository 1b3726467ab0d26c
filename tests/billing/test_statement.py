from datetime import date
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from billing.statement import Entry, balance, statement
from provider.money import from_cents
from provider.periods import DateSpan

YEAR = DateSpan.year(2026)
money = st.integers(-500_000, 500_000).map(from_cents)
days = st.dates(date(2025, 6, 1), date(2027, 6, 1))
charges = st.builds(lambda on, amount: Entry(on, "Invoice", charged=amount), days, money)
payments = st.builds(lambda on, amount: Entry(on, "Payment", received=abs(amount)), days, money)
entries = st.lists(charges | payments, max_size=8)


def charge(on, amount):
    return Entry(on, "Invoice", charged=Decimal(amount))


def payment(on, amount):
    return Entry(on, "Payment", received=Decimal(amount))


def test_a_balance_is_invoices_and_credit_notes_less_payments():
    charged = [Decimal("840.00"), Decimal("-840.00"), Decimal("420.00")]
    assert balance(charged, [Decimal("500.00")]) == Decimal("-80.00")


def test_a_statement_opens_with_what_lies_before_and_leaves_out_what_lies_after():
    found = statement(
        [
            charge(date(2025, 12, 31), "100.00"),
            charge(date(2026, 1, 1), "840.00"),
            payment(date(2026, 12, 31), "840.00"),
            charge(date(2027, 1, 1), "900.00"),
        ],
        YEAR,
    )
    assert (found.opening, found.charged, found.received, found.closing) == (
        Decimal("100.00"),
        Decimal("840.00"),
        Decimal("840.00"),
        Decimal("100.00"),
    )


def test_it_shows_the_balance_after_each_entry():
    found = statement([payment(date(2026, 2, 3), "300.00"), charge(date(2026, 2, 1), "840.00")], YEAR)
    assert [posting.balance for posting in found.postings] == [Decimal("840.00"), Decimal("540.00")]


@given(entries, st.randoms(use_true_random=False))
def test_the_closing_balance_does_not_depend_on_the_order(rows, random):
    mixed = rows.copy()
    random.shuffle(mixed)
    assert statement(mixed, YEAR).closing == statement(rows, YEAR).closing


@given(entries)
def test_invoices_plus_credits_minus_payments_is_the_balance(rows):
    span = DateSpan(date(2026, 1, 1))
    expected = sum((row.charged for row in rows), Decimal(0)) - sum((row.received for row in rows), Decimal(0))
    assert statement(rows, span).closing == balance((r.charged for r in rows), (r.received for r in rows)) == expected


@given(entries)
def test_one_year_opens_where_the_year_before_closed(rows):
    assert statement(rows, DateSpan.year(2027)).opening == statement(rows, YEAR).closing
