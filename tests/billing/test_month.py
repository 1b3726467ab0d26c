"""What the preview of a month shows before anything is issued."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from billing.models import Payer
from billing.selectors.month import month_preview
from provider.models import Closure, PatternDay
from tests.billing.tuition_cast import issue, issue_one, place, two_payers
from tests.factories import make_agreement, make_child, make_enrolment, make_guardian, make_household, make_provider

pytestmark = pytest.mark.django_db


def november(provider):
    return month_preview(provider, 2026, 11)


def test_it_drafts_one_invoice_for_all_children_of_a_payer():
    provider = make_provider()
    payer = make_guardian(make_household(provider))
    place(provider, "840.00", payers={payer: "1.0000"})
    place(provider, "400.00", payers={payer: "1.0000"})
    (draft,) = november(provider).drafts
    assert (draft.guardian, len(draft.lines), draft.total) == (payer, 2, Decimal("1240.00"))


def test_it_prorates_a_mid_month_join_and_shows_the_arithmetic():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider)), start=date(2026, 11, 16))
    make_agreement(enrolment, "840.00")
    (line,) = november(provider).drafts[0].lines
    assert (line.arithmetic, line.amount) == ("$840.00 × 11 ÷ 21 care days", Decimal("440.00"))


def test_it_stops_where_the_enrolment_ends_though_the_agreement_is_open():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider)), end=date(2026, 11, 11))
    make_agreement(enrolment, "840.00")
    assert november(provider).total == Decimal("280.00")


def close(provider, day, **fields):
    return Closure.objects.create(
        provider=provider, start=day, end=day + timedelta(days=1), kind="holiday", reason="Feast", **fields
    )


def test_it_takes_off_an_unpaid_closure_but_not_a_paid_or_voided_one():
    provider = make_provider()
    place(provider, "840.00")
    close(provider, date(2026, 11, 25), paid=False)
    close(provider, date(2026, 11, 26), paid=True)
    close(provider, date(2026, 11, 27), paid=False, voided_at=datetime(2026, 10, 1, tzinfo=UTC))
    assert november(provider).total == Decimal("800.00")


def test_it_bills_each_week_in_the_month_of_its_first_care_day():
    provider = make_provider()
    place(provider, "200.00", period="weekly")
    (draft,) = november(provider).drafts
    assert [line.span.start for line in draft.lines] == [date(2026, 11, day) for day in (2, 9, 16, 23, 30)]


def test_it_counts_a_new_pattern_from_its_first_day():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider)), weekdays=())
    for weekday, start, end in ((0, date(2024, 1, 1), date(2026, 11, 16)), (1, date(2026, 11, 16), None)):
        PatternDay.objects.create(
            provider=provider,
            enrolment=enrolment,
            weekday=weekday,
            arrives=time(8),
            leaves=time(17),
            start=start,
            end=end,
        )
    make_agreement(enrolment, "200.00")
    (draft,) = november(provider).drafts
    assert [line.arithmetic for line in draft.lines] == ["$200.00 × 2 ÷ 5 care days", "$200.00 × 2 ÷ 4 care days"]


def test_it_splits_a_charge_between_payers_to_the_cent():
    provider, payers = two_payers(("0.3333", "0.6667"))
    place(provider, "100.01", payers=payers)
    assert [draft.total for draft in november(provider).drafts] == [Decimal("33.33"), Decimal("66.68")]


def test_it_says_which_part_of_the_charge_a_payer_pays():
    provider, payers = two_payers()
    place(provider, "100.00", payers=payers)
    assert november(provider).drafts[0].lines[0].arithmetic == "$100.00 a month; 60 % of $100.00"


def test_it_names_an_enrolled_child_without_agreement():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider), name="Iris"))
    (problem,) = november(provider).problems
    assert (problem.enrolment, problem.agreement) == (enrolment, None)
    assert problem.text == "Iris has no agreement from Nov. 1, 2026 to Nov. 30, 2026."


def test_it_names_the_part_of_the_month_without_agreement_and_drafts_the_rest():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider), name="Iris"))
    make_agreement(enrolment, "840.00", start=date(2026, 11, 16))
    preview = november(provider)
    assert (preview.problems[0].text, preview.total) == (
        "Iris has no agreement from Nov. 1, 2026 to Nov. 15, 2026.",
        Decimal("440.00"),
    )


def test_it_minds_no_gap_without_a_care_day():
    provider = make_provider()
    enrolment = make_enrolment(make_child(make_household(provider)), start=date(2026, 10, 31))
    make_agreement(enrolment, "840.00", start=date(2026, 11, 2))
    assert november(provider).problems == ()


def test_it_names_an_agreement_without_payer_and_drafts_nothing_for_it():
    provider = make_provider()
    agreement = place(provider)
    Payer.objects.filter(agreement=agreement).delete()
    preview = november(provider)
    assert ([problem.agreement for problem in preview.problems], preview.drafts) == ([agreement], ())


def test_it_names_payers_who_do_not_pay_the_whole():
    provider, payers = two_payers(("0.6000", "0.3000"))
    place(provider, payers=payers)
    assert "pay 90.00 % together" in november(provider).problems[0].text


def test_it_names_a_child_without_weekly_pattern():
    provider = make_provider()
    make_agreement(make_enrolment(make_child(make_household(provider)), weekdays=()))
    (problem,) = november(provider).problems
    assert problem.lacks_pattern


def test_it_minds_neither_own_children_nor_free_places():
    provider = make_provider()
    own = make_enrolment(make_child(make_household(provider), is_own_child=True))
    free = make_enrolment(make_child(make_household(provider)), is_free_place=True)
    preview = november(provider)
    assert (set(preview.unbilled), preview.problems, preview.drafts) == ({own, free}, (), ())


def test_it_has_nothing_left_to_draft_once_issued():
    provider = make_provider()
    issue_one(provider)
    preview = november(provider)
    assert (preview.drafts, preview.issued, preview.differing) == ((), 1, ())


def test_it_says_when_records_differ_from_an_invoice_that_stands():
    provider = make_provider()
    invoice = issue_one(provider)
    close(provider, date(2026, 11, 3), paid=False)
    preview = november(provider)
    assert (preview.drafts, [each.invoice_label for each in preview.differing]) == ((), [invoice.label])


def test_its_fingerprint_changes_with_any_amount():
    provider = make_provider()
    agreement = place(provider)
    before = november(provider).fingerprint
    agreement.rate = Decimal("840.01")
    agreement.save()
    assert november(provider).fingerprint != before


def test_it_sees_no_other_business():
    place(make_provider())
    assert november(make_provider()).drafts == ()


def test_its_queries_do_not_grow_with_children():
    provider = make_provider()
    place(provider)
    issue(provider, month=10)
    with CaptureQueriesContext(connection) as few:
        november(provider)
    for _number in range(4):
        place(provider)
    with CaptureQueriesContext(connection) as many:
        november(provider)
    assert len(many) == len(few) <= 8
