"""A real Chromium, and phones in it that visit the invented house."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.browser.served import Served
from tests.edge.pages.conftest import PASSPHRASE
from tests.edge.pages.double import Double, lived_a_day

ARGS = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"width": 360, "height": 740}
expect.set_options(timeout=10_000)


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """One browser for the tests of this folder, ended after them."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def house() -> Double:
    """The invented house after a day of life."""
    return lived_a_day()


@pytest.fixture
def served(house: Double) -> Iterator[Served]:
    """Its pages, open to anyone, who counts as owner so that every page can be seen."""
    with Served(house, open_rank="owner", passphrase=PASSPHRASE) as running:
        yield running


Phone = Callable[..., Page]


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Phone]:
    """Makes a phone. A request to anywhere but the house, or an error of the script, fails the test."""
    contexts: list[BrowserContext] = []
    strays: list[str] = []

    def make(**settings: Any) -> Page:
        context = chromium.new_context(
            **{"viewport": PHONE, "timezone_id": "Europe/Oslo", "locale": "en-GB", **settings}
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)  # a busy machine is no fault of the page
        page.on("request", lambda one: strays.append(one.url) if _elsewhere(one.url) else None)
        page.on("pageerror", lambda error: strays.append(str(error)))
        page.on("console", lambda line: strays.append(line.text) if "Content Security" in line.text else None)
        return page

    yield make
    for context in contexts:
        context.close()
    assert strays == []


def _elsewhere(url: str) -> bool:
    parts = urlsplit(url)
    return parts.scheme not in ("data", "blob") and parts.hostname != "127.0.0.1"
