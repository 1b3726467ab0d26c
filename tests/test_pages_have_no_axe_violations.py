"""The accessibility checker looks at every page, once per template, as the owner of a small business sees it."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from provider.models import Role
from tests.conftest import DESKTOP, OpenPage
from tests.test_doors import SCOPED, Cast, address_of, view_of, visit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

IN_THE_DARK = ("provider:today", "provider:calendar", "curriculum:theme", "billing:money", "billing:receipt_new")


def _pages_of(cast: Cast, app: str) -> Iterator[tuple[str, str]]:
    """Name and address of the first page made by each template, of the routes of an app that show the owner a page."""
    seen = set()
    for name in SCOPED:
        if not name.startswith(f"{app}:") or Role.OWNER not in view_of(name).roles:
            continue
        address = address_of(name, cast)
        response = visit(cast.users[Role.OWNER], "get", address)
        is_page = response.status_code == 200 and response.headers["Content-Type"].startswith("text/html")
        if is_page and response.templates[0].name not in seen:
            seen.add(response.templates[0].name)
            yield name, address


def _violations(page: Page, address: str) -> list[str]:
    page.goto(address)
    found = Axe().run(page).response["violations"]
    return [f"{each['id']}: {each['nodes'][0]['html']}" for each in found]


@pytest.mark.parametrize("app", sorted({name.partition(":")[0] for name in SCOPED}))
def test_it_finds_no_violation_on_any_page_of_an_app(app: str, open_page: OpenPage) -> None:
    cast = Cast()
    addresses = dict(_pages_of(cast, app))
    page = open_page(user=cast.users[Role.OWNER])

    found = {name: _violations(page, address) for name, address in addresses.items()}

    assert len(found) > 20
    assert {name: violations for name, violations in found.items() if violations} == {}


def test_it_finds_no_violation_in_the_dark(open_page: OpenPage) -> None:
    cast = Cast()
    page = open_page(user=cast.users[Role.OWNER], viewport=DESKTOP, color_scheme="dark")

    found = {name: _violations(page, address_of(name, cast)) for name in IN_THE_DARK}

    assert {name: violations for name, violations in found.items() if violations} == {}
