"""Fixtures for every test: its own place for files, and a real Chromium for those that drive a browser."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.contrib.auth.models import AbstractUser
from django.test import Client
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright
from pytest_django.fixtures import Settings
from pytest_django.live_server_helper import LiveServer

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 900}

OpenPage = Callable[..., Page]

# How fast examples are drawn says something about the machine, and nothing about the books.
hypothesis_settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
hypothesis_settings.load_profile("house")


@pytest.fixture(autouse=True)
def _own_media(settings: Settings, tmp_path: Path) -> None:
    """Files saved by one test are not seen by the next."""
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for the tests of a module.

    While the driver lives its event loop runs in this thread, which Django would take for an async view; hence the
    variable, set for exactly that long.
    """
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


@pytest.fixture
def open_page(browser: Browser, live_server: LiveServer) -> Iterator[OpenPage]:
    """Make pages of the live server: `open_page(viewport=DESKTOP, user=owner, java_script_enabled=False, ...)`.

    `user` is signed in; other arguments go to Playwright's `new_context`. The test fails if a page broke the content
    security policy or a script raised.
    """
    contexts = []
    complaints: list[str] = []

    def note(message: ConsoleMessage) -> None:
        if "Content Security Policy" in message.text:
            complaints.append(message.text)

    def make(*, user: AbstractUser | None = None, viewport: dict[str, int] = PHONE, **options: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, viewport=viewport, **options)
        contexts.append(context)
        context.set_default_timeout(10_000)
        context.on("console", note)
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        if user is not None:
            client = Client()
            client.force_login(user)
            name = django_settings.SESSION_COOKIE_NAME
            context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        return context.new_page()

    yield make
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def page(open_page: OpenPage) -> Page:
    """A page of phone size, nobody signed in."""
    return open_page()
