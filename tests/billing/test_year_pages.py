"""The Year end door and the cost of a theme, as people of every role meet them."""

import io
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse
from openpyxl import load_workbook

from billing.models import TaxBasis, TaxYear
from billing.selectors.year import year_result
from provider.models import AuditEntry, PeriodLock, Role
from provider.models.base import new_public_id
from tests.billing.books import file_receipt, make_year, to
from tests.factories import lock_year, make_member, make_provider, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _february():
    with time_machine.travel("2026-02-10T15:00:00Z", tick=False):
        yield


@pytest.fixture
def provider():
    return make_provider()


@pytest.fixture
def sign_in(client, provider):
    def as_role(role):
        client.force_login(make_member(provider, role))
        return client

    return as_role


@pytest.fixture
def owner(sign_in):
    return sign_in(Role.OWNER)


def address(name, provider, *args):
    return reverse(f"billing:{name}", args=[provider.slug, *args])


READING = ["year", "year_workbook"]
WRITING = ["year_choices", "year_close", "year_reopen"]


def test_the_owner_sees_both_incomes_and_the_deductible_total(owner, provider):
    make_year(provider)
    result = year_result(provider, 2025, date(2026, 2, 10))
    html = owner.get(address("year", provider, 2025)).content.decode()
    for amount in (result.earned_total, result.received_total, result.deductible, result.not_computed_total):
        assert f"${amount:,.2f}" in html


def test_the_list_links_to_every_year(owner, provider):
    html = owner.get(address("year_end", provider)).content.decode()
    assert all(address("year", provider, year) in html for year in (2024, 2025, 2026))


def test_a_year_before_the_business_is_not_found(owner, provider):
    assert owner.get(address("year", provider, 2020)).status_code == 404


def test_without_rules_the_page_says_so_and_offers_no_workbook(client):
    old = make_provider(opened_on=date(2019, 1, 1))
    client.force_login(make_member(old))
    html = client.get(address("year", old, 2019)).content.decode()
    assert "There are no tax rules" in html
    assert "Export" not in html
    assert client.get(address("year_workbook", old, 2019)).status_code == 404


def test_the_workbook_comes_as_a_file(owner, provider):
    response = owner.get(address("year_workbook", provider, 2025))
    assert response["Content-Disposition"] == f'attachment; filename="{provider.slug}-2025.xlsx"'
    assert "Summary" in load_workbook(io.BytesIO(response.content)).sheetnames


@pytest.mark.parametrize("name", READING)
def test_a_preparer_reads_and_exports(sign_in, provider, name):
    assert sign_in(Role.PREPARER).get(address(name, provider, 2025)).status_code == 200


@pytest.mark.parametrize("name", WRITING)
def test_a_preparer_changes_nothing(sign_in, provider, name):
    preparer = sign_in(Role.PREPARER)
    assert preparer.post(address(name, provider, 2025), {"reason": "Mine"}).status_code == 403
    assert not PeriodLock.objects.exists()


def test_a_preparer_is_offered_no_change(sign_in, provider):
    html = sign_in(Role.PREPARER).get(address("year", provider, 2025)).content.decode()
    assert "Close the year" not in html


@pytest.mark.parametrize("role", [Role.HELPER, Role.FAMILY])
@pytest.mark.parametrize("name", READING + WRITING)
def test_a_helper_and_a_family_are_kept_out(sign_in, provider, role, name):
    assert sign_in(role).get(address(name, provider, 2025)).status_code == 403


@pytest.mark.parametrize("name", READING + WRITING)
def test_a_stranger_finds_nothing(client, provider, name):
    client.force_login(make_member(make_provider()))
    assert client.get(address(name, provider, 2025)).status_code == 404


def test_the_owner_states_her_choices(owner, provider):
    values = {
        "basis": "accrual",
        "rounding": "unrounded",
        "provisional_home_share": "31.25",
        "counts_preparation": "no",
        "version": "0",
    }
    response = owner.post(address("year_choices", provider, 2026), values)
    row = TaxYear.objects.get(provider=provider, year=2026)
    assert response.status_code == 302
    assert (row.basis, row.rounding, row.provisional_home_share) == ("accrual", "unrounded", Decimal("0.3125"))
    assert row.counts_preparation is False


def test_a_share_above_the_whole_home_is_refused(owner, provider):
    values = {"basis": "cash", "rounding": "published", "provisional_home_share": "101", "version": "0"}
    assert owner.post(address("year_choices", provider, 2026), values).status_code == 422


def test_choices_changed_meanwhile_are_questioned(owner, provider):
    TaxYear.objects.create(provider=provider, year=2026, basis=TaxBasis.CASH, version=3)
    values = {"basis": "accrual", "rounding": "published", "counts_preparation": "usual", "version": "2"}
    response = owner.post(address("year_choices", provider, 2026), values)
    assert response.status_code == 422
    assert TaxYear.objects.get().basis == TaxBasis.CASH


def test_choices_of_a_closed_year_stay(owner, provider):
    lock_year(provider, 2025)
    values = {"basis": "accrual", "rounding": "published", "counts_preparation": "usual", "version": "0"}
    assert owner.post(address("year_choices", provider, 2025), values).status_code == 422
    assert not TaxYear.objects.exists()


def test_the_owner_closes_a_year_with_its_choices_written_down(owner, provider):
    owner.post(address("year_close", provider, 2025), {"reason": "Return filed"})
    lock = PeriodLock.objects.get(provider=provider)
    assert (lock.start, lock.end, lock.reason) == (date(2025, 1, 1), date(2026, 1, 1), "Return filed")
    assert TaxYear.objects.get(provider=provider, year=2025).basis == TaxBasis.CASH
    assert AuditEntry.objects.filter(provider=provider, verb="lock").count() == 1


def test_a_year_is_closed_once_however_often_the_button_is_pressed(owner, provider):
    for _press in range(2):
        response = owner.post(address("year_close", provider, 2025), {"reason": "Filed", "submission_key": "k"})
        assert response.status_code == 302
    assert PeriodLock.objects.count() == 1


def test_closing_needs_a_reason(owner, provider):
    assert owner.post(address("year_close", provider, 2025), {"reason": " "}).status_code == 422
    assert not PeriodLock.objects.exists()


def test_a_running_year_cannot_be_closed(owner, provider):
    assert owner.post(address("year_close", provider, 2026), {"reason": "Early"}).status_code == 422


def test_the_owner_opens_a_year_again_with_a_reason(owner, provider):
    lock = lock_year(provider, 2025)
    refused = owner.post(address("year_reopen", provider, 2025), {"reason": ""})
    owner.post(address("year_reopen", provider, 2025), {"reason": "A receipt turned up"})
    lock.refresh_from_db()
    assert refused.status_code == 422
    assert (lock.lifted_at is not None, lock.lift_reason) == (True, "A receipt turned up")


def test_opening_a_year_that_is_open_leads_back_to_it(owner, provider):
    assert owner.get(address("year_reopen", provider, 2025)).url == address("year", provider, 2025)


# --- Cost of a theme


@pytest.fixture
def run(provider):
    run = make_run(provider)
    file_receipt(provider, date(2025, 3, 7), ("craft_supplies", "31.17", to(run)))
    return run


def test_the_theme_page_gets_its_cost_as_a_fragment(owner, provider, run):
    response = owner.get(address("run_cost", provider, run.public_id), headers={"HX-Request": "true"})
    html = response.content.decode()
    assert "$31.17" in html
    assert "<html" not in html
    assert "HX-Request" in response["Vary"]


def test_without_script_the_cost_is_a_page_of_its_own(owner, provider, run):
    html = owner.get(address("run_cost", provider, run.public_id)).content.decode()
    assert "<html" in html
    assert "management figure" in html


def test_runs_stand_side_by_side_in_a_chart_and_a_table(owner, provider, run):
    other = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    html = owner.get(address("run_cost", provider, run.public_id)).content.decode()
    assert "<svg" in html
    assert address("run_cost", provider, other.public_id) in html


def test_a_preparer_reads_the_cost_of_a_theme(sign_in, provider, run):
    assert sign_in(Role.PREPARER).get(address("run_cost", provider, run.public_id)).status_code == 200


@pytest.mark.parametrize("role", [Role.HELPER, Role.FAMILY])
def test_a_helper_and_a_family_see_no_cost(sign_in, provider, run, role):
    assert sign_in(role).get(address("run_cost", provider, run.public_id)).status_code == 403


def test_the_cost_of_anothers_run_is_not_found(owner, provider):
    other = make_run(make_provider())
    assert owner.get(address("run_cost", provider, other.public_id)).status_code == 404
    assert owner.get(address("run_cost", provider, new_public_id())).status_code == 404
