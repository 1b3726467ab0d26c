"""The pages of tuition: who may see and do what, and what a second click or bad input leaves behind."""

import io
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from billing.models import Agreement, Invoice, Payment, Series
from billing.selectors.month import month_preview
from billing.services.invoices import credit_note
from provider.models import Role
from tests.billing.tuition_cast import TODAY, issue, issue_one, place
from tests.factories import make_child, make_enrolment, make_guardian, make_household, make_member, make_provider

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _october():
    with time_machine.travel("2026-10-28 12:00Z", tick=False):
        yield


@pytest.fixture
def provider():
    return make_provider()


def as_role(provider, role=Role.OWNER, **fields):
    client = Client()
    client.force_login(make_member(provider, role, **fields))
    return client


def at(view, provider, *args):
    return reverse(f"billing:{view}", args=[provider.slug, *args])


NOVEMBER = date(2026, 11, 1)


def issue_post(provider, **fields):
    return {"fingerprint": month_preview(provider, 2026, 11).fingerprint, **fields}


def payment_post(**fields):
    return {"on": "2026-10-28", "amount": "840.00", "method": "cash", "submission_key": "one-key", **fields}


def addresses(provider):
    invoice = issue_one(provider)
    payment = Payment.objects.create(
        provider=provider, household=invoice.household, on=TODAY, amount=Decimal("10.00"), method="cash"
    )
    agreement = invoice.lines.get().agreement
    reading = [
        at("money", provider),
        at("balances", provider),
        at("statement", provider, invoice.household.public_id),
        at("invoices", provider),
        at("invoice_month", provider, NOVEMBER),
        at("invoice_month_pdf", provider, NOVEMBER),
        at("invoice", provider, invoice.public_id),
        at("invoice_pdf", provider, invoice.public_id),
        at("payments", provider),
        at("payment", provider, payment.public_id),
        at("agreements", provider),
        at("place", provider, agreement.enrolment.public_id),
    ]
    writing = [
        at("credit_note", provider, invoice.public_id),
        at("payment_new", provider),
        at("payment_record", provider, invoice.household.public_id),
        at("payment_void", provider, payment.public_id),
        at("agreement_new", provider, agreement.enrolment.public_id),
        at("agreement", provider, agreement.public_id),
    ]
    return reading, writing


def codes(client, urls, method="get"):
    return {getattr(client, method)(url).status_code for url in urls}


def test_the_owner_sees_every_page(provider):
    reading, writing = addresses(provider)
    assert codes(as_role(provider), reading + writing) == {200}


def test_the_preparer_reads_and_writes_nothing(provider):
    reading, writing = addresses(provider)
    preparer = as_role(provider, Role.PREPARER)
    assert (codes(preparer, reading), codes(preparer, writing), codes(preparer, reading + writing, "post")) == (
        {200},
        {403},
        {403},
    )


@pytest.mark.parametrize("role", [Role.HELPER, Role.FAMILY])
def test_helpers_and_families_see_no_books(provider, role):
    reading, writing = addresses(provider)
    assert codes(as_role(provider, role), reading + writing) == {403}


def test_strangers_find_nothing(provider):
    reading, writing = addresses(provider)
    assert codes(as_role(make_provider()), reading + writing) == {404}


@pytest.mark.parametrize("view", ["invoice", "invoice_pdf", "credit_note"])
def test_an_invoice_of_another_business_is_not_found(provider, view):
    foreign = issue_one(make_provider())
    assert as_role(provider).get(at(view, provider, foreign.public_id)).status_code == 404


def test_a_payment_from_a_family_of_another_business_is_not_found(provider):
    foreign = make_household(make_provider())
    response = as_role(provider).post(at("payment_record", provider, foreign.public_id), payment_post())
    assert (response.status_code, Payment.objects.count()) == (404, 0)


def test_a_payment_for_an_invoice_of_another_business_is_refused(provider):
    foreign = issue_one(make_provider())
    url = at("payment_record", provider, make_household(provider).public_id)
    response = as_role(provider).post(url, payment_post(invoice=foreign.public_id))
    assert (response.status_code, list(response.context["form"].errors)) == (422, ["invoice"])


def test_a_month_that_is_none_is_not_found(provider):
    assert as_role(provider).get(f"/{provider.slug}/money/invoices/2026-13/").status_code == 404


def test_the_month_page_shows_problems_and_the_arithmetic(provider):
    enrolment = make_enrolment(make_child(make_household(provider), name="Iris"))
    late = make_enrolment(make_child(make_household(provider), name="Otis"), start=date(2026, 11, 16))
    Agreement.objects.filter(pk=place(provider).pk).update(enrolment=late)
    page = as_role(provider).get(at("invoice_month", provider, NOVEMBER)).content.decode()
    assert enrolment.child.name in page.split("To issue")[0]
    assert "$840.00 × 11 ÷ 21 care days" in page


def test_one_act_issues_the_month_and_says_so(provider):
    place(provider)
    place(provider)
    response = as_role(provider).post(at("invoice_month", provider, NOVEMBER), issue_post(provider), follow=True)
    assert "2 invoices issued: 2026-0001 to 2026-0002." in response.content.decode()


def test_a_second_click_on_issue_adds_nothing_and_says_so(provider):
    place(provider)
    owner, url, post = as_role(provider), at("invoice_month", provider, NOVEMBER), issue_post(provider)
    owner.post(url, post)
    response = owner.post(url, post, follow=True)
    assert "Nothing was left to issue" in response.content.decode()
    assert Invoice.objects.count() == 1


def test_a_month_that_changed_since_is_shown_again_as_it_is_now(provider):
    place(provider)
    owner, url, post = as_role(provider), at("invoice_month", provider, NOVEMBER), issue_post(provider)
    newcomer = place(provider).enrolment.child
    response = owner.post(url, post)
    page = response.content.decode()
    assert (response.status_code, Invoice.objects.count()) == (422, 0)
    assert "Something changed since you looked" in page
    assert newcomer.name in page
    assert month_preview(provider, 2026, 11).fingerprint in page


def test_problems_stop_the_act_until_it_is_ticked_that_the_rest_is_issued(provider):
    place(provider)
    make_enrolment(make_child(make_household(provider)))
    owner, url = as_role(provider), at("invoice_month", provider, NOVEMBER)
    refused = owner.post(url, issue_post(provider))
    assert (refused.status_code, list(refused.context["form"].errors)) == (422, ["issue_the_rest"])
    owner.post(url, issue_post(provider, issue_the_rest="on"))
    assert Invoice.objects.count() == 1


def test_a_post_without_what_was_seen_issues_nothing(provider):
    place(provider)
    response = as_role(provider).post(at("invoice_month", provider, NOVEMBER), {"fingerprint": ""})
    assert (response.status_code, Invoice.objects.count()) == (422, 0)


def test_there_is_no_pdf_of_a_month_without_invoices(provider):
    assert as_role(provider).get(at("invoice_month_pdf", provider, NOVEMBER)).status_code == 404


def test_a_payment_sent_twice_is_recorded_once(provider):
    invoice = issue_one(provider)
    owner, url = as_role(provider), at("payment_record", provider, invoice.household.public_id)
    first, second = owner.post(url, payment_post()), owner.post(url, payment_post())
    assert (first.status_code, first.url, Payment.objects.count()) == (302, second.url, 1)


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"on": "2026-10-29"}, "on"),
        ({"on": "yesterday"}, "on"),
        ({"amount": "0"}, "amount"),
        ({"amount": "-5"}, "amount"),
        ({"amount": "lots"}, "amount"),
        ({"method": "barter"}, "method"),
        ({"guardian": "nobody"}, "guardian"),
    ],
)
def test_a_wrong_payment_is_shown_again_with_what_was_typed(provider, fields, wrong):
    household = make_household(provider)
    response = as_role(provider).post(at("payment_record", provider, household.public_id), payment_post(**fields))
    form = response.context["form"]
    assert (response.status_code, list(form.errors), form[wrong].value()) == (422, [wrong], fields[wrong])
    assert Payment.objects.count() == 0


def test_the_payment_form_begins_with_what_is_open_on_the_chosen_invoice(provider):
    invoice = issue_one(provider)
    url = at("payment_record", provider, invoice.household.public_id)
    form = as_role(provider).get(url, {"invoice": invoice.public_id}).context["form"]
    assert (form["amount"].value(), form["invoice"].value()) == (Decimal("840.00"), invoice.public_id)


def test_a_payment_is_voided_with_a_reason(provider):
    payment = Payment.objects.create(
        provider=provider, household=make_household(provider), on=TODAY, amount=Decimal("10.00"), method="cash"
    )
    as_role(provider).post(at("payment_void", provider, payment.public_id), {"version": 1, "reason": "Typed twice"})
    payment.refresh_from_db()
    assert (payment.voided_at is not None, payment.void_reason) == (True, "Typed twice")


def test_a_credit_note_sent_twice_is_written_once(provider):
    invoice = issue_one(provider)
    owner, url = as_role(provider), at("credit_note", provider, invoice.public_id)
    for _click in range(2):
        owner.post(url, {"reason": "Wrong rate", "submission_key": "one-key"})
    assert Invoice.objects.filter(series=Series.CREDIT).count() == 1


def agreement_post(guardian, **fields):
    return {
        "start": "2026-11-01",
        "rate": "840",
        "period": "monthly",
        f"share_{guardian.public_id}": "100",
        "submission_key": "one-key",
        **fields,
    }


def test_a_rate_is_agreed_in_percent(provider):
    household = make_household(provider)
    one, other = make_guardian(household), make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    post = agreement_post(one) | {f"share_{one.public_id}": "33.33", f"share_{other.public_id}": "66.67"}
    as_role(provider).post(at("agreement_new", provider, enrolment.public_id), post)
    assert [payer.share for payer in Agreement.objects.get().payers.order_by("share")] == [
        Decimal("0.3333"),
        Decimal("0.6667"),
    ]


def test_one_guardian_pays_the_whole_unless_told_otherwise(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    form = as_role(provider).get(at("agreement_new", provider, enrolment.public_id)).context["form"]
    assert form[f"share_{guardian.public_id}"].value() == "100"


@pytest.mark.parametrize("fields", [{"rate": "-1"}, {"start": ""}, {"period": "daily"}, {"last_day": "2026-10-31"}])
def test_a_wrong_agreement_is_shown_again(provider, fields):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    url = at("agreement_new", provider, enrolment.public_id)
    response = as_role(provider).post(url, agreement_post(guardian, **fields))
    assert (response.status_code, list(response.context["form"].errors)) == (422, list(fields))
    assert Agreement.objects.count() == 0


def test_an_agreement_holds_on_its_last_day(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    owner = as_role(provider)
    owner.post(at("agreement_new", provider, enrolment.public_id), agreement_post(guardian, last_day="2026-11-01"))
    agreement = Agreement.objects.get()
    page = owner.get(at("agreement", provider, agreement.public_id)).content.decode()
    assert (agreement.end, 'value="2026-11-01"' in page) == (date(2026, 11, 2), True)


def test_an_agreement_saved_again_as_shown_keeps_its_end(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    owner = as_role(provider)
    owner.post(at("agreement_new", provider, enrolment.public_id), agreement_post(guardian, last_day="2026-12-31"))
    url = at("agreement", provider, Agreement.objects.get().public_id)
    form = owner.get(url).context["form"]
    owner.post(url, {field.html_name: field.value() for field in form if field.value() is not None})
    assert Agreement.objects.get().end == date(2027, 1, 1)


def test_a_rate_that_reaches_into_the_next_says_so_beside_its_last_day(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    owner, url = as_role(provider), at("agreement_new", provider, enrolment.public_id)
    owner.post(url, agreement_post(guardian))
    response = owner.post(
        url, agreement_post(guardian, start="2026-08-01", last_day="2026-11-01", submission_key="another")
    )
    assert list(response.context["form"].errors) == ["last_day"]


def test_shares_short_of_the_whole_are_told(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    post = agreement_post(guardian) | {f"share_{guardian.public_id}": "99.99"}
    response = as_role(provider).post(at("agreement_new", provider, enrolment.public_id), post)
    assert "The shares add up to 99.99 %" in response.content.decode()


def test_an_agreement_sent_twice_is_recorded_once(provider):
    household = make_household(provider)
    guardian = make_guardian(household)
    enrolment = make_enrolment(make_child(household))
    owner, url = as_role(provider), at("agreement_new", provider, enrolment.public_id)
    codes = [owner.post(url, agreement_post(guardian)).status_code for _click in range(2)]
    assert (codes, Agreement.objects.count()) == ([302, 302], 1)


def test_invoices_are_found_by_family_and_state(provider):
    wanted, other = issue_one(provider), issue_one(provider)
    credit_note(provider=provider, actor=None, today=TODAY, invoice=other, reason="Wrong child")
    owner, url = as_role(provider), at("invoices", provider)
    by_family = owner.get(url, {"household": wanted.household.public_id})
    unpaid = owner.get(url, {"state": "open"})
    assert [row.record for row in by_family.context["table"].rows] == [wanted]
    assert [row.record for row in unpaid.context["table"].rows] == [wanted]


@pytest.mark.parametrize("first", [date(2000, 1, 1), date(2099, 12, 1)])
def test_the_first_and_the_last_month_with_an_address_have_a_page(provider, first):
    assert as_role(provider).get(at("invoice_month", provider, first)).status_code == 200


@pytest.mark.parametrize("view", ["invoices", "payments"])
def test_the_boxes_that_narrow_a_list_are_folded_until_they_do(provider, view):
    household, owner = issue_one(provider).household, as_role(provider)
    everything = owner.get(at(view, provider)).content.decode()
    narrowed = owner.get(at(view, provider), {"household": household.public_id}).content.decode()
    assert ('<details class="help">' in everything, '<details class="help" open>' in narrowed) == (True, True)


def test_a_family_sees_its_own_papers_and_balance(provider):
    invoice, other = issue_one(provider), issue_one(provider)
    family = as_role(provider, Role.FAMILY, household=invoice.household)
    page = family.get(at("family_papers", provider)).content.decode()
    assert (invoice.label in page, other.label in page, "$840.00 is to pay" in page) == (True, False, True)


@pytest.mark.parametrize("view", ["family_paper", "family_paper_pdf"])
def test_a_family_opens_its_own_papers_only(provider, view):
    invoice, other = issue_one(provider), issue_one(provider)
    family = as_role(provider, Role.FAMILY, household=invoice.household)
    found = [family.get(at(view, provider, row.public_id)).status_code for row in (invoice, other)]
    assert found == [200, 404]


def test_a_family_writes_nothing(provider):
    family = as_role(provider, Role.FAMILY)
    assert family.post(at("family_papers", provider)).status_code == 403


@pytest.mark.parametrize("role", [Role.OWNER, Role.HELPER, Role.PREPARER])
def test_papers_are_the_familys_door(provider, role):
    assert as_role(provider, role).get(at("family_papers", provider)).status_code == 403


def test_the_pdf_is_named_by_number_and_kept_by_nobody(provider):
    invoice = issue_one(provider)
    response = as_role(provider).get(at("invoice_pdf", provider, invoice.public_id))
    assert response["Content-Disposition"] == 'inline; filename="2026-0001.pdf"'
    assert response["Cache-Control"] == "private, no-store"
    assert io.BytesIO(response.content).read(5) == b"%PDF-"


def test_the_papers_of_a_month_are_all_in_one_pdf(provider):
    place(provider)
    place(provider)
    issue(provider)
    response = as_role(provider).get(at("invoice_month_pdf", provider, NOVEMBER))
    assert response["Content-Type"] == "application/pdf"


def test_the_list_of_places_says_where_terms_or_payers_are_missing(provider):
    make_enrolment(make_child(make_household(provider)))
    place(provider).payers.all().delete()
    page = as_role(provider).get(at("agreements", provider)).content.decode()
    assert ("No agreement" in page, "Nobody" in page) == (True, True)


def test_a_credit_note_shows_a_dash_for_what_it_has_not(provider):
    invoice = issue_one(provider)
    note = credit_note(provider=provider, actor=None, today=TODAY, invoice=invoice, reason="Wrong child")
    table = as_role(provider).get(at("invoices", provider), {"state": "credit"}).context["table"]
    [row] = table.rows
    assert row.record == note
    assert (row.get_cell("due_on"), row.get_cell("open")) == ("–", "–")


@pytest.mark.parametrize(("role", "is_told"), [(Role.OWNER, True), (Role.HELPER, False)])
def test_the_page_of_a_family_tells_the_owner_alone_who_pays_what(provider, role, is_told):
    guardian = make_guardian(make_household(provider))
    place(provider, payers={guardian: "1.0000"})
    url = reverse("provider:household", args=[provider.slug, guardian.household.public_id])
    page = as_role(provider, role).get(url).content.decode()
    assert ("tuition" in page) == is_told
