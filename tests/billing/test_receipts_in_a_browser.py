from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from billing.models import Receipt
from curriculum.models import Acquisition
from provider.clock import today
from provider.models import Provider
from tests.billing.slips import photo
from tests.conftest import DESKTOP, OpenPage
from tests.factories import make_member, make_provider, make_run

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def provider() -> Provider:
    provider = make_provider()
    day = today(provider)
    make_run(provider, start=day - timedelta(days=10), end=day + timedelta(days=20))
    return provider


@pytest.fixture
def slip_photo(tmp_path: Path) -> Path:
    path = tmp_path / "slip.png"
    path.write_bytes(photo("PNG"))
    return path


def line(page: Page, number: int, what: str, amount: str) -> None:
    if not page.locator(f"#id_lines-{number}-description").count():
        page.get_by_role("button", name="Add a line").click()
    page.locator(f"#id_lines-{number}-description").fill(what)
    page.locator(f"#id_lines-{number}-amount").fill(amount)


def fill_in_four_lines(page: Page, provider: Provider, slip_photo: Path) -> None:
    """A slip of 41.04: felt and paint for the theme, blocks that last, and a lamp split with the household."""
    page.goto(f"/{provider.slug}/money/receipts/new/")
    page.get_by_label("Shop").fill("Corner paper shop")
    page.get_by_label("Total", exact=True).fill("41.04")
    page.get_by_label("Sales tax").fill("3.04")
    page.get_by_label("Photo or PDF of the receipt").set_input_files(slip_photo)
    line(page, 0, "Felt sheets", "6.00")
    page.locator("#id_lines-0-category").select_option("craft_supplies")
    line(page, 1, "Wooden blocks", "18.00")
    page.locator("#id_lines-1-category").select_option("toys_books")
    page.locator("#id_lines-1-target").select_option("lot:new")
    page.locator("#id_lines-1-new_name").fill("Wooden blocks")
    line(page, 2, "Lamp", "14.00")
    page.locator("#id_lines-2-category").select_option("other")
    page.locator("#lines-2").get_by_role("button", name="Split this line").click()


def make_the_half_personal(page: Page) -> None:
    expect(page.locator("#id_lines-2-amount")).to_have_value("7.00")
    expect(page.locator("#id_lines-3-amount")).to_have_value("7.00")
    page.locator("#id_lines-3-share_rule").select_option("personal")


def check_what_was_filed(page: Page, provider: Provider) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text("Corner paper shop")
    expect(page.get_by_alt_text("Photo of the receipt")).to_be_visible()
    receipt = Receipt.objects.get(provider=provider)
    kept = receipt.lines.order_by("position").values_list("description", "share_rule", "target")
    assert list(kept) == [
        ("Felt sheets", "business", "run"),
        ("Wooden blocks", "business", "lot"),
        ("Lamp", "business", "run"),
        ("Lamp", "personal", "household"),
    ]
    assert sum(each.cost for each in receipt.lines.all()) == receipt.total
    assert str(Acquisition.objects.get().basis) == "19.44"


def does_not_scroll_sideways(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


def test_a_receipt_of_four_lines_is_filed_without_scripts(
    open_page: OpenPage, provider: Provider, slip_photo: Path
) -> None:
    page = open_page(user=make_member(provider), java_script_enabled=False)

    fill_in_four_lines(page, provider, slip_photo)
    expect(page.get_by_text("Paper kept:")).to_be_visible()
    make_the_half_personal(page)
    page.get_by_role("button", name="Check the sum").click()
    expect(page.get_by_text("The lines add up to the total.")).to_be_visible()
    page.locator(".acts").get_by_role("button", name="File the receipt").click()

    check_what_was_filed(page, provider)


def test_a_receipt_of_four_lines_is_filed_with_scripts(
    open_page: OpenPage, provider: Provider, slip_photo: Path
) -> None:
    page = open_page(user=make_member(provider))

    fill_in_four_lines(page, provider, slip_photo)
    make_the_half_personal(page)
    expect(page.get_by_text("The lines add up to the total.")).to_be_visible()
    assert does_not_scroll_sideways(page)
    page.locator(".acts").get_by_role("button", name="File the receipt").click()

    check_what_was_filed(page, provider)
    assert does_not_scroll_sideways(page)


def test_the_boxes_of_a_share_appear_when_a_line_is_shared(open_page: OpenPage, provider: Provider) -> None:
    page = open_page(user=make_member(provider), java_script_enabled=False)
    page.goto(f"/{provider.slug}/money/receipts/new/")
    expect(page.locator("#id_lines-0-share_basis")).to_be_hidden()

    page.locator("#id_lines-0-share_rule").select_option("shared")
    expect(page.locator("#id_lines-0-share_basis")).to_be_visible()
    expect(page.locator("#id_lines-0-percent")).to_be_hidden()
    page.locator("#id_lines-0-share_basis").select_option("fixed")

    expect(page.locator("#id_lines-0-percent")).to_be_visible()


def test_the_enter_key_files_the_receipt_and_splits_nothing(open_page: OpenPage, provider: Provider) -> None:
    page = open_page(user=make_member(provider))
    page.goto(f"/{provider.slug}/money/receipts/new/")
    page.get_by_label("Shop").fill("Corner paper shop")
    page.get_by_label("Total", exact=True).fill("12.00")
    line(page, 0, "Felt", "11.00")
    page.locator("#id_lines-0-category").select_option("craft_supplies")

    page.locator("#id_lines-0-amount").press("Enter")

    expect(page.get_by_role("alert")).to_contain_text("1.00 is missing")
    expect(page.locator("[data-row]")).to_have_count(1)
    expect(page.locator("#id_lines-0-description")).to_have_value("Felt")


@pytest.mark.parametrize(
    ("options", "rows"), [({}, 1), ({"viewport": DESKTOP}, 3), ({"java_script_enabled": False}, 3)]
)
def test_a_phone_with_scripts_starts_with_one_line(
    open_page: OpenPage, provider: Provider, options: dict[str, Any], rows: int
) -> None:
    page = open_page(user=make_member(provider), **options)

    page.goto(f"/{provider.slug}/money/receipts/new/")

    expect(page.locator("[data-row]")).to_have_count(rows)
    expect(page.locator("[name=lines-TOTAL_FORMS]")).to_have_value(str(rows))


def test_the_page_reads_a_decimal_comma_as_the_books_do(open_page: OpenPage, provider: Provider) -> None:
    page = open_page(user=make_member(provider))
    page.goto(f"/{provider.slug}/money/receipts/new/")

    page.get_by_label("Total", exact=True).fill("1.012,50")
    line(page, 0, "Felt", "1,012.50")

    expect(page.get_by_text("The lines add up to the total.")).to_be_visible()
