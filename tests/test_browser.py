"""The browser fixtures themselves: what they promise the other browser tests."""

import pytest

from tests.conftest import PHONE
from tests.factories import make_member, make_provider


@pytest.mark.browser
def test_a_page_is_of_phone_size_and_reaches_the_server(page):
    page.goto("/health/")
    assert page.viewport_size == PHONE
    assert page.inner_text("body") == "ok"


@pytest.mark.browser
def test_a_user_is_signed_in(open_page):
    user = make_member(make_provider(slug="home-of-tests"))
    page = open_page(user=user)
    page.goto("/")
    assert "/home-of-tests/" in page.url
