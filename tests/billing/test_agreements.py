"""Terms of a place: one rate on any day, and payers who pay the whole."""

from datetime import date
from decimal import Decimal

import pytest

from billing.models import Agreement, Payer
from billing.selectors.agreements import places
from billing.services.agreements import AgreementsOverlap, AlreadyInvoiced, SharesNotWhole, agree, change_agreement
from provider.errors import DomainError, ForeignRow, StaleRow
from provider.models import AuditEntry
from tests.billing.tuition_cast import TODAY, at_once, issue, place, two_payers
from tests.factories import make_child, make_enrolment, make_guardian, make_household, make_provider

pytestmark = pytest.mark.django_db
ALL = Decimal("1.0000")


def new(enrolment, start=date(2026, 1, 1), shares=None, **terms):
    if shares is None:
        shares = {make_guardian(enrolment.child.household): ALL}
    return agree(
        **{
            "provider": enrolment.provider,
            "actor": None,
            "today": TODAY,
            "enrolment": enrolment,
            "start": start,
            "rate": Decimal("840.00"),
            "period": "monthly",
            "shares": shares,
            **terms,
        }
    )


def change(agreement, **terms):
    now = {name: getattr(agreement, name) for name in ("version", "rate", "period", "start", "end", "note")}
    shares = {payer.guardian: payer.share for payer in agreement.payers.all()}
    return change_agreement(
        **{"provider": agreement.provider, "actor": None, "today": TODAY, "agreement": agreement, "shares": shares}
        | now
        | terms
    )


def an_enrolment(**fields):
    return make_enrolment(make_child(make_household(make_provider())), **fields)


def test_a_new_rate_ends_the_former_one():
    enrolment = an_enrolment()
    former = new(enrolment)
    new(enrolment, date(2026, 6, 1))
    former.refresh_from_db()
    assert former.end == date(2026, 6, 1)


def test_a_rate_may_not_begin_on_the_day_of_another():
    enrolment = an_enrolment()
    new(enrolment)
    with pytest.raises(AgreementsOverlap):
        new(enrolment)


def test_a_rate_may_not_reach_into_a_later_one():
    enrolment = an_enrolment()
    new(enrolment, date(2026, 6, 1))
    with pytest.raises(AgreementsOverlap) as caught:
        new(enrolment)
    assert caught.value.field == "end"


def test_a_rate_may_end_where_a_later_one_begins():
    enrolment = an_enrolment()
    new(enrolment, date(2026, 6, 1))
    assert new(enrolment, end=date(2026, 6, 1)).pk


@pytest.mark.parametrize("shares", [("0.5000", "0.4999"), ("0.7000", "0.7000")])
def test_shares_must_add_up_to_the_whole(shares):
    enrolment = an_enrolment()
    one, other = (make_guardian(enrolment.child.household) for _i in range(2))
    with pytest.raises(SharesNotWhole):
        new(enrolment, shares={one: Decimal(shares[0]), other: Decimal(shares[1])})
    assert not Agreement.objects.filter(enrolment=enrolment).exists()


def test_a_rate_needs_a_payer():
    with pytest.raises(SharesNotWhole):
        new(an_enrolment(), shares={})


def test_a_time_without_charge_needs_none():
    assert new(an_enrolment(), shares={}, rate=Decimal("0.00")).pk


@pytest.mark.parametrize("start", [date(2023, 12, 31), date(2026, 7, 1)])
def test_a_rate_begins_while_the_child_is_enrolled(start):
    with pytest.raises(DomainError) as caught:
        new(an_enrolment(end=date(2026, 7, 1)), start)
    assert caught.value.field == "start"


def test_the_end_lies_after_the_start():
    with pytest.raises(DomainError) as caught:
        new(an_enrolment(), end=date(2026, 1, 1))
    assert caught.value.field == "end"


def test_a_negative_rate_is_refused():
    with pytest.raises(DomainError):
        new(an_enrolment(), rate=Decimal("-1.00"))


def test_a_free_place_has_no_rate():
    with pytest.raises(DomainError):
        new(an_enrolment(is_free_place=True))


def test_an_own_child_has_no_rate():
    with pytest.raises(DomainError):
        new(make_enrolment(make_child(make_household(make_provider()), is_own_child=True)))


def test_a_payer_of_another_business_is_refused():
    stranger = make_guardian(make_household(make_provider()))
    with pytest.raises(ForeignRow):
        new(an_enrolment(), shares={stranger: ALL})


def test_a_place_of_another_business_is_refused():
    with pytest.raises(ForeignRow):
        new(an_enrolment(), provider=make_provider())


def test_a_resent_form_makes_one_agreement():
    enrolment = an_enrolment()
    assert new(enrolment, submission_key="k") == new(enrolment, submission_key="k")


def test_a_correction_changes_who_pays_and_the_trail_says_so():
    provider, payers = two_payers()
    first, second = payers
    agreement = place(provider, payers={first: "1.0000"})
    change(agreement, shares={second: ALL})
    entry = AuditEntry.objects.get(provider=provider, changes__has_key="payers")
    assert [payer.guardian for payer in Payer.objects.filter(agreement=agreement)] == [second]
    assert entry.changes["payers"] == [{str(first): "1.0000"}, {str(second): "1.0000"}]


def test_the_rate_stays_once_it_was_invoiced():
    provider = make_provider()
    agreement = place(provider)
    issue(provider)
    with pytest.raises(AlreadyInvoiced):
        change(agreement, rate=Decimal("900.00"))


def test_the_end_may_still_be_set_then():
    provider = make_provider()
    agreement = place(provider)
    issue(provider)
    assert change(agreement, end=date(2026, 12, 1)).end == date(2026, 12, 1)


def test_a_stale_correction_is_questioned():
    agreement = place(make_provider())
    change(agreement, note="Told by phone")
    with pytest.raises(StaleRow):
        change(agreement, note="Told by letter")


def test_places_without_terms_come_first():
    provider = make_provider()
    with_terms = place(provider).enrolment
    without = make_enrolment(make_child(make_household(provider)))
    assert [row.enrolment for row in places(provider, TODAY)] == [without, with_terms]


@pytest.mark.django_db(transaction=True)
def test_two_rates_agreed_at_once_never_overlap():
    enrolment = an_enrolment()
    results = at_once(lambda: new(enrolment), lambda: new(enrolment))
    assert {type(result) for result in results} == {Agreement, AgreementsOverlap}
    assert Agreement.objects.filter(enrolment=enrolment).count() == 1
