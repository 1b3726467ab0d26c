"""Issuing a month: gapless, never twice, all or nothing; and taking an invoice back."""

from datetime import date
from decimal import Decimal

import pytest

from billing.models import Allocation, Invoice, InvoiceLine, NumberCounter, Series
from billing.selectors.month import month_preview
from billing.services import invoices as service
from billing.services.agreements import agree, change_agreement
from billing.services.invoices import AlreadyCredited, PreviewChanged, ProblemsLeft, TooEarly, credit_note
from billing.services.payments import record_payment
from provider.errors import DomainError, PeriodLocked
from provider.models import AuditEntry
from tests.billing.tuition_cast import TODAY, at_once, issue, issue_one, place, two_payers
from tests.factories import lock_year, make_child, make_enrolment, make_household, make_provider

pytestmark = pytest.mark.django_db


def take_back(invoice, **options):
    return credit_note(
        **{
            "provider": invoice.provider,
            "actor": None,
            "today": TODAY,
            "invoice": invoice,
            "reason": "Wrong rate",
            **options,
        }
    )


def numbers(provider, series=Series.INVOICE):
    return list(
        Invoice.objects.filter(provider=provider, series=series).order_by("number").values_list("number", flat=True)
    )


def test_it_numbers_invoices_without_gaps_and_goes_on_next_month():
    provider = make_provider()
    place(provider)
    place(provider)
    issue(provider, month=11)
    issue(provider, month=12)
    assert numbers(provider) == [1, 2, 3, 4]


def test_it_starts_anew_with_the_year_of_issue():
    provider = make_provider()
    place(provider)
    issue(provider, month=12)
    (invoice,) = issue_next_january(provider)
    assert (invoice.year, invoice.number) == (2027, 1)


def issue_next_january(provider):
    return service.issue_month(provider=provider, actor=None, today=date(2027, 1, 2), year=2027, month=1).invoices


def test_each_business_counts_for_itself():
    one, other = make_provider(), make_provider()
    issue_one(one)
    assert issue_one(other).number == 1


def test_it_goes_on_from_a_number_brought_along():
    provider = make_provider()
    NumberCounter.objects.create(provider=provider, series=Series.INVOICE, year=2026, last=57)
    assert issue_one(provider).label == "2026-0058"


def test_it_copies_everything_in():
    provider = make_provider(
        address="1 Invented Lane", phone="555-0100", email="desk@example.org", invoice_note="By transfer."
    )
    agreement = place(provider)
    household = agreement.enrolment.child.household
    household.address = "2 Made-up Road"
    household.save()
    (invoice,) = issue(provider).invoices
    assert (invoice.issuer_name, invoice.issuer_address, invoice.issuer_contact) == (
        provider.name,
        "1 Invented Lane",
        "555-0100, desk@example.org",
    )
    assert (invoice.payer_address, invoice.note, invoice.issued_on, invoice.due_on) == (
        "2 Made-up Road",
        "By transfer.",
        TODAY,
        date(2026, 11, 2),
    )


def test_the_lines_add_up_to_the_total():
    provider = make_provider()
    invoice = issue_one(provider, "200.00", period="weekly")
    assert invoice.total == sum(line.amount for line in invoice.lines.all()) == Decimal("1000.00")


def test_a_second_act_finds_nothing_left():
    provider = make_provider()
    place(provider)
    issue(provider)
    assert issue(provider).invoices == ()
    assert numbers(provider) == [1]


def test_a_double_click_with_what_was_seen_changes_nothing():
    provider = make_provider()
    place(provider)
    seen = month_preview(provider, 2026, 11).fingerprint
    issue(provider, expected_fingerprint=seen)
    assert issue(provider, expected_fingerprint=seen).invoices == ()


def test_it_never_bills_the_same_days_twice_under_a_new_agreement():
    provider = make_provider()
    invoice = issue_one(provider)
    line = invoice.lines.get()
    agree(
        provider=provider,
        actor=None,
        today=TODAY,
        enrolment=line.agreement.enrolment,
        rate=Decimal("900.00"),
        period="monthly",
        start=date(2026, 11, 16),
        shares={line.guardian: Decimal("1.0000")},
    )
    assert issue(provider).invoices == ()


def test_it_never_bills_a_second_payer_for_days_that_the_first_was_billed_for_whole():
    provider, payers = two_payers()
    first, second = payers
    agreement = place(provider, payers={first: "1.0000"})
    issue(provider)
    change_agreement(
        provider=provider,
        actor=None,
        today=TODAY,
        agreement=agreement,
        version=agreement.version,
        rate=agreement.rate,
        period=agreement.period,
        start=agreement.start,
        shares={first: Decimal("0.5000"), second: Decimal("0.5000")},
    )
    assert issue(provider).invoices == ()


def test_it_issues_a_late_place_without_touching_the_rest():
    provider = make_provider()
    issue_one(provider)
    place(provider)
    assert [invoice.number for invoice in issue(provider).invoices] == [2]


def test_it_refuses_what_is_no_longer_what_was_seen():
    provider = make_provider()
    place(provider)
    seen = month_preview(provider, 2026, 11).fingerprint
    place(provider)
    with pytest.raises(PreviewChanged):
        issue(provider, expected_fingerprint=seen)
    assert numbers(provider) == []


def test_it_refuses_while_problems_are_left():
    provider = make_provider()
    place(provider)
    make_enrolment(make_child(make_household(provider)))
    with pytest.raises(ProblemsLeft):
        issue(provider)
    assert numbers(provider) == []


def test_it_issues_the_rest_when_told_and_says_what_remains():
    provider = make_provider()
    place(provider)
    make_enrolment(make_child(make_household(provider)))
    issued = issue(provider, issue_the_rest=True)
    assert (len(issued.invoices), len(issued.problems)) == (1, 1)


def test_it_issues_all_or_nothing(monkeypatch):
    provider = make_provider()
    place(provider)
    place(provider)
    kept = service._issue

    def fail_on_the_second(desk, draft, span, today, number):
        if number == 2:
            raise DomainError("The lights went out.")
        return kept(desk, draft, span, today, number)

    monkeypatch.setattr(service, "_issue", fail_on_the_second)
    with pytest.raises(DomainError):
        issue(provider)
    monkeypatch.undo()
    assert (numbers(provider), [each.number for each in issue(provider).invoices]) == ([], [1, 2])


def test_it_refuses_a_date_of_issue_in_a_closed_period():
    provider = make_provider()
    place(provider)
    lock_year(provider, 2026)
    with pytest.raises(PeriodLocked):
        issue(provider)


def test_it_refuses_a_month_far_ahead():
    provider = make_provider()
    place(provider)
    with pytest.raises(TooEarly):
        service.issue_month(provider=provider, actor=None, today=TODAY, year=2027, month=2)


def test_it_leaves_a_trail():
    provider = make_provider()
    invoice = issue_one(provider)
    entry = AuditEntry.objects.get(object_public_id=invoice.public_id)
    assert (entry.verb, entry.object_label) == ("issue", "2026-0001")


def test_credit_on_account_pays_what_is_issued():
    provider = make_provider()
    agreement = place(provider, "840.00")
    record_payment(
        provider=provider,
        actor=None,
        today=TODAY,
        household=agreement.enrolment.child.household,
        on=TODAY,
        amount=Decimal("100.00"),
        method="cash",
    )
    (invoice,) = issue(provider).invoices
    assert Allocation.objects.get(invoice=invoice).amount == Decimal("100.00")


def test_a_credit_note_mirrors_the_invoice_in_its_own_series():
    invoice = issue_one(make_provider(), "200.00", period="weekly")
    note = take_back(invoice)
    assert (note.label, note.total, note.corrects, note.reason) == ("C2026-0001", -invoice.total, invoice, "Wrong rate")
    assert [line.amount for line in note.lines.order_by("position")] == [Decimal("-200.00")] * 5


def test_a_credit_note_lets_the_month_be_issued_anew():
    provider = make_provider()
    invoice = issue_one(provider)
    take_back(invoice)
    (again,) = issue(provider).invoices
    assert (again.number, again.total) == (2, invoice.total)


def test_one_payer_of_two_can_be_billed_anew_alone():
    provider, payers = two_payers()
    place(provider, payers=payers)
    first, _second = issue(provider).invoices
    take_back(first)
    (again,) = issue(provider).invoices
    assert (again.guardian, again.total) == (first.guardian, first.total)


def test_a_credit_note_turns_what_was_paid_into_credit_that_pays_the_new_invoice():
    provider = make_provider()
    invoice = issue_one(provider)
    record_payment(
        provider=provider,
        actor=None,
        today=TODAY,
        household=invoice.household,
        on=TODAY,
        amount=invoice.total,
        method="card",
    )
    take_back(invoice)
    assert not Allocation.objects.filter(provider=provider).exists()
    (again,) = issue(provider).invoices
    assert Allocation.objects.get(invoice=again).amount == again.total


def test_a_credit_note_is_written_once():
    invoice = issue_one(make_provider())
    take_back(invoice)
    with pytest.raises(AlreadyCredited):
        take_back(invoice)


def test_a_resent_credit_note_is_the_same():
    invoice = issue_one(make_provider())
    assert take_back(invoice, submission_key="k") == take_back(invoice, submission_key="k")


def test_a_credit_note_cannot_be_taken_back():
    note = take_back(issue_one(make_provider()))
    with pytest.raises(DomainError):
        take_back(note)


def test_a_credit_note_needs_a_reason():
    invoice = issue_one(make_provider())
    with pytest.raises(DomainError) as caught:
        take_back(invoice, reason="  ")
    assert caught.value.field == "reason"


def test_a_credit_note_of_another_business_is_refused():
    invoice = issue_one(make_provider())
    with pytest.raises(Invoice.DoesNotExist):
        take_back(invoice, provider=make_provider())


@pytest.mark.django_db(transaction=True)
def test_two_browsers_issuing_at_once_make_one_set_without_gaps():
    provider = make_provider()
    for _number in range(3):
        place(provider)
    seen = month_preview(provider, 2026, 11).fingerprint
    results = at_once(*[lambda: issue(provider, expected_fingerprint=seen)] * 2)
    assert sorted(len(result.invoices) for result in results) == [0, 3]
    assert (numbers(provider), InvoiceLine.objects.filter(provider=provider).count()) == ([1, 2, 3], 3)


@pytest.mark.django_db(transaction=True)
def test_two_months_issued_at_once_share_one_run_of_numbers():
    provider = make_provider()
    place(provider)
    place(provider)
    at_once(lambda: issue(provider, month=11), lambda: issue(provider, month=12))
    assert numbers(provider) == [1, 2, 3, 4]


@pytest.mark.django_db(transaction=True)
def test_two_credit_notes_at_once_make_one():
    invoice = issue_one(make_provider())
    results = at_once(*[lambda: take_back(invoice)] * 2)
    assert [type(result) for result in results].count(AlreadyCredited) == 1
    assert numbers(invoice.provider, Series.CREDIT) == [1]
