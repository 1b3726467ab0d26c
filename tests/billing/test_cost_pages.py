"""The cost sheet on its page and on paper, and the forecast, as people of every role meet them."""

import subprocess
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from billing.selectors.cost_sheet import cost_sheet
from curriculum.models import Placement, ThemeRun
from provider.models import Child, Role
from tests.billing.books import file_receipt, fixed, make_year, to
from tests.factories import make_lot, make_member, make_provider, make_run

pytestmark = pytest.mark.django_db
TODAY = date(2026, 2, 10)


@pytest.fixture(autouse=True)
def _february():
    with time_machine.travel("2026-02-10T15:00:00Z", tick=False):
        yield


@pytest.fixture
def provider():
    return make_provider(name="Larch Lane Care", hourly_value=Decimal("18.00"))


@pytest.fixture
def run(provider):
    """March of a year with something of everything."""
    make_year(provider)
    return ThemeRun.objects.select_related("theme").get(provider=provider, start=date(2025, 3, 1))


@pytest.fixture
def visit(client, provider):
    def as_role(role, name, *args):
        client.force_login(make_member(provider, role))
        return client.get(reverse(f"billing:{name}", args=[provider.slug, *args]))

    return as_role


def words(html):
    return " ".join(html.content.decode().split())


def text_of(pdf):
    """What poppler reads, with every run of white space as one blank."""
    read = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(read.stdout.decode().split())


@pytest.mark.parametrize("role", [Role.OWNER, Role.PREPARER])
@pytest.mark.parametrize("name", ["cost_sheet", "cost_sheet_pdf"])
def test_the_owner_and_the_preparer_read_the_sheet(visit, run, role, name):
    assert visit(role, name, run.public_id).status_code == 200


@pytest.mark.parametrize("role", [Role.HELPER, Role.FAMILY])
@pytest.mark.parametrize("name", ["cost_sheet", "cost_sheet_pdf"])
def test_nobody_else_does(visit, run, role, name):
    assert visit(role, name, run.public_id).status_code == 403


@pytest.mark.parametrize(("role", "status"), [(Role.OWNER, 200), (Role.PREPARER, 200), (Role.HELPER, 403)])
def test_the_forecast_is_for_those_who_read_the_books(visit, role, status):
    assert visit(role, "forecast").status_code == status


def test_a_run_of_another_business_is_not_found(visit):
    assert visit(Role.OWNER, "cost_sheet", make_run(make_provider()).public_id).status_code == 404


def test_the_page_shows_the_cost_what_stands_beside_it_and_the_caution(visit, run):
    sheet = cost_sheet(run.provider, run, TODAY)
    page = words(visit(Role.OWNER, "cost_sheet", run.public_id))
    for amount in (sheet.cost.total, sheet.cost.as_new, sheet.tuition, sheet.deductible, sheet.cost.hours_value):
        assert f"${amount:,.2f}" in page
    assert "It is not the tax deduction: a tax preparer decides" in page
    assert f"Both sides agree to the cent: ${sheet.cost.total}" in page


def test_the_page_says_when_the_budget_is_not_enough(visit, run):
    run.budget = cost_sheet(run.provider, run, TODAY).cost.total - Decimal("3.21")
    run.save()
    assert "$3.21 over it" in words(visit(Role.OWNER, "cost_sheet", run.public_id))


def test_the_page_names_no_child(visit, run):
    child = Child.objects.get(provider=run.provider)
    page = words(visit(Role.PREPARER, "cost_sheet", run.public_id))
    assert ("Equally" in page, child.name in page) == (True, False)


def test_the_page_of_a_run_without_any_cost_says_what_will_appear(visit, provider):
    page = words(visit(Role.OWNER, "cost_sheet", make_run(provider).public_id))
    assert "Nothing is charged to this theme yet" in page


def test_the_short_page_leads_to_the_whole_sheet(visit, run):
    page = words(visit(Role.OWNER, "run_cost", run.public_id))
    assert reverse("billing:cost_sheet", args=[run.provider.slug, run.public_id]) in page


def test_the_paper_holds_the_same_figures(visit, run):
    sheet = cost_sheet(run.provider, run, TODAY)
    text = text_of(visit(Role.OWNER, "cost_sheet_pdf", run.public_id).content)
    for amount in (sheet.cost.total, sheet.cost.as_new, sheet.tuition, sheet.deductible, sheet.lots.left):
        assert f"${amount:,.2f}" in text
    for words_on_it in ("Larch Lane Care", str(run.theme), "a tax preparer decides", "Reuse charge"):
        assert words_on_it in text


def test_the_paper_of_a_full_run_takes_two_pages(visit, provider):
    run = make_run(provider)
    file_receipt(provider, run.start, *[("craft_supplies", "4.05", {**to(run), **fixed("0.5000")})] * 10)
    for _number in range(12):
        Placement.objects.create(provider=provider, run=run, lot=make_lot(provider), quantity=Decimal(1))
    pdf = visit(Role.OWNER, "cost_sheet_pdf", run.public_id).content
    info = subprocess.run(["pdfinfo", "-"], input=pdf, capture_output=True, check=True).stdout.decode()
    assert ("Pages:           2" in info, "letter" in info) == (True, True)


def test_the_forecast_shows_the_coming_months(visit, run):
    ThemeRun.objects.create(provider=run.provider, theme=run.theme, start=date(2026, 3, 1), end=date(2026, 4, 1))
    page = words(visit(Role.OWNER, "forecast"))
    assert ("March 2026" in page, "$26.00" in page, "neither a recorded cost nor a tax deduction" in page) == (
        True,
    ) * 3


def test_the_forecast_without_plans_says_what_to_do(visit):
    assert "No theme is planned ahead" in words(visit(Role.OWNER, "forecast"))
