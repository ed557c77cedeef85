"""Larger letters and smaller screens: a browser's own text size counts, and nothing runs off sideways unsaid."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import ARGS, Phone
from tests.browser.served import Served
from tests.browser.walk import addresses, taught
from tests.edge.pages.double import Double

ROWS = ("/", "/room/study", "/room/study/week?day=2", "/owner/heaters", "/people")


def sizes(page: Page) -> dict[str, float]:
    """Sizes of letters and of what holds them, px."""
    found: dict[str, float] = page.evaluate(
        """() => Object.fromEntries(['body', 'h1', '.small', '.now', '.bar button', '.scale text', '.top summary']
             .flatMap(where => { const el = document.querySelector(where), style = getComputedStyle(el);
               return [[where, parseFloat(style.fontSize)],
                 [where + ' height', where === '.bar button' ? el.getBoundingClientRect().height : 0]]; }))"""
    )
    return found


@pytest.mark.timeout(200)
def test_a_browsers_larger_letters_make_all_letters_larger(
    served: Served, chromium: Browser, phone: Phone
) -> None:
    """At 24 px for 16 all is half as large again, and no page runs off sideways at 360 px."""
    page = phone(viewport={"width": 640, "height": 740})
    page.goto(served.url)
    usual = sizes(page)
    assert usual["body"] == 16
    larger = chromium.browser_type.launch(
        executable_path="/usr/bin/chromium", args=[*ARGS, "--blink-settings=defaultFontSize=24"]
    )
    try:
        page = larger.new_page(viewport={"width": 640, "height": 740})
        page.goto(served.url)
        assert sizes(page) == {what: pytest.approx(1.5 * size) for what, size in usual.items()}
        page.set_viewport_size({"width": 360, "height": 740})
        for path in ROWS:
            page.goto(served.url + path)
            assert runs_off(page) == [], path
    finally:
        larger.close()


def runs_off(page: Page) -> list[str]:
    """What makes the page wider than the screen."""
    found: list[str] = page.evaluate(
        """() => document.documentElement.scrollWidth <= innerWidth ? [] :
             [...document.querySelectorAll('body *')].filter(el => !el.closest('.wide,pre,.hid'))
             .filter(el => el.getBoundingClientRect().right > innerWidth + 0.5)
             .map(el => el.outerHTML.slice(0, 80)).concat('the page')"""
    )
    return found


@pytest.mark.timeout(300)
@pytest.mark.parametrize("width", [320, 240, 180])
def test_no_page_runs_off_sideways(served: Served, house: Double, phone: Phone, width: int) -> None:
    """WCAG 2.2 1.4.10 asks it at 320 px; 180 is a phone of 360 at 200 %."""
    taught(house)
    page = phone(viewport={"width": width, "height": 740})
    for path in (*addresses(served), "/room/study/week?day=2"):
        page.goto(served.url + path)
        assert runs_off(page) == [], path


def edge(page: Page, scroll: int) -> Any:
    """A picture of the right edge of the first wide table, its own marks away."""
    box = page.locator(".wide").first
    box.evaluate("(el, left) => { el.scrollLeft = left; }", scroll)
    box.evaluate("el => { el.firstElementChild.style.visibility = 'hidden'; }")
    place = box.bounding_box()
    assert place is not None
    clip = {"x": place["x"] + place["width"] - 8, "y": place["y"] + 40, "width": 8, "height": 40}
    return page.screenshot(clip=clip)  # type: ignore[arg-type]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_table_that_goes_on_shows_it(served: Served, phone: Phone, theme: str) -> None:
    """A shadow at the edge beyond which more lies; none at the end, and none on a wide screen."""
    page = phone(color_scheme=theme)
    page.goto(f"{served.url}/owner/energy")
    goes_on, ends = edge(page, 0), edge(page, 1000)
    assert goes_on != ends
    page.set_viewport_size({"width": 900, "height": 740})
    assert edge(page, 0) == ends


@pytest.mark.parametrize("locale", ["en-GB", "de-DE"])
def test_the_air_outside_is_named_on_the_smallest_phone(served: Served, phone: Phone, locale: str) -> None:
    """At 320 px time and air outside stand in one line, with the word that says which air it is."""
    page = phone(viewport={"width": 320, "height": 740}, locale=locale)
    page.goto(served.url)
    line = page.locator(".top .name p")
    said = line.evaluate("el => el.innerText")
    assert ("outside" if locale == "en-GB" else "draußen") in said
    assert "16:12" in said
    height, of_line, top = line.evaluate(
        """el => [el.offsetHeight, parseFloat(getComputedStyle(el).lineHeight),
                  document.getElementById('top').offsetHeight]"""
    )
    assert (height, top) == (of_line, 48)
