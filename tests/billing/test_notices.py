"""What Today says about money."""

from datetime import date

import pytest
from django.urls import reverse

from billing.notices import month_to_issue, overdue_families
from provider.models import Role
from tests.billing.tuition_cast import issue, issue_one, place
from tests.factories import make_child, make_enrolment, make_household, make_provider

pytestmark = pytest.mark.django_db
NOVEMBER_3 = date(2026, 11, 3)


def texts(source, provider, role=Role.OWNER, day=NOVEMBER_3):
    return [notice.text for notice in source(provider, role, day)]


def test_it_counts_the_invoices_to_issue_and_leads_to_the_month():
    provider = make_provider()
    place(provider)
    place(provider)
    (notice,) = month_to_issue(provider, Role.OWNER, NOVEMBER_3)
    assert notice.text == "2 invoices for November 2026 are not issued."
    assert notice.url == reverse("billing:invoice_month", args=[provider.slug, date(2026, 11, 1)])


def test_it_counts_children_who_cannot_be_invoiced():
    provider = make_provider()
    make_enrolment(make_child(make_household(provider)))
    assert texts(month_to_issue, provider) == ["1 child cannot be invoiced for November 2026 yet."]


def test_it_is_silent_once_the_month_is_issued():
    provider = make_provider()
    place(provider)
    issue(provider)
    assert texts(month_to_issue, provider) == []


def test_it_names_a_family_from_the_day_after_the_due_date():
    provider = make_provider()
    family = issue_one(provider).household
    assert texts(overdue_families, provider, day=date(2026, 11, 2)) == []
    assert texts(overdue_families, provider) == [f"{family} owes $840.00, due since Nov. 2, 2026."]


@pytest.mark.parametrize("role", [Role.HELPER, Role.PREPARER, Role.FAMILY])
def test_it_tells_the_owner_only(role):
    provider = make_provider()
    issue_one(provider)
    place(provider)
    assert texts(month_to_issue, provider, role) + texts(overdue_families, provider, role) == []
