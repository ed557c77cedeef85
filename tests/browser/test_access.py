"""Accessibility by axe-core (WCAG 2.2 AA and what comes before), page weight, and screenshots to look at."""

from __future__ import annotations

import gzip
import http.client
import os
from datetime import timedelta
from pathlib import Path

import axe_core_python
import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Phone
from tests.browser.served import Served
from tests.edge.pages.double import Double
from thermostatd.core.results import Trouble
from thermostatd.edge.pages.door import FileLook

AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text()
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PAGES = [
    "/",
    "/room/study",
    "/room/study/week?day=3",
    "/phone",
    "/people",
    "/owner",
    "/owner/heaters",
    "/owner/circuits",
    "/owner/troubles",
    "/owner/energy",
    "/owner/sensors",
    "/owner/rooms",
    "/owner/file",
    "/help",
    "/help/reasons",
    "/help/safety",
    "/help/house-file",
]
# what a theme can change; all else is the same page
OF_COLOUR = ["color-contrast", "link-in-text-block"]
FIRST_VISIT_BYTES = 25_000


def faults(page: Page, rules: list[str] | None = None) -> list[str]:
    """What axe-core finds, one line each; by some rules alone where they are given."""
    page.evaluate(AXE)
    only = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": TAGS}
    found = page.evaluate("only => axe.run(document, {runOnly: only, resultTypes: ['violations']})", only)
    return [f"{one['id']}: {node['html'][:160]}" for one in found["violations"] for node in one["nodes"]]


def in_trouble(house: Double) -> None:
    """Both kinds of trouble, a silent sensor, an old view."""
    loud = Trouble("hall/convector/drawing-while-off", "drawing-while-off", "A plug that should be off carries power.",
                   "588 W.", "Pull the plug out.", house.wall, loud=True, latched=True)  # fmt: skip
    quiet = Trouble("battery", "battery-low", "A battery is low.", "8 %.", "Change it.",
                    house.wall - timedelta(hours=30))  # fmt: skip
    house.troubles, house.age_seconds, house.broker_up = (loud, quiet), 400.0, False
    house.silent.add("hall")
    for _ in range(40):
        house.tick()


@pytest.mark.timeout(400)  # seventeen pages; a busy machine takes its time
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing(served: Served, house: Double, phone: Phone, theme: str) -> None:
    """Every page, in both themes, with its panels open, in trouble and refused, is clean."""
    page = phone(color_scheme=theme, bypass_csp=True)
    house.file = FileLook("house.toml", ((12, "room.study", "it is wrong", "Mend it."),), (), True)
    house.regulator.adopt({"study": {"gain_kelvin": 34.2, "tau_seconds": 43000.0, "dead_seconds": 600.0}})
    rules = OF_COLOUR if theme == "dark" else None
    for path in PAGES:
        page.goto(served.url + path)
        if "owner" in path:
            page.evaluate("document.querySelectorAll('main details').forEach(box => { box.open = true; })")
        assert faults(page, rules) == [], path
        print(f"axe, {theme}, {path}: nothing")
    page.goto(served.url)
    for summary in page.locator("summary").all():
        summary.click()
    assert faults(page) == []
    page.keyboard.press("Escape")
    page.goto(served.url)
    page.locator("#at-study summary").click()
    page.locator("#at-study input[name=degrees]").fill("99")
    page.locator("#at-study button[value=in-60]").click()
    page.locator(".msg").wait_for()
    assert faults(page) == []
    page.get_by_role("button", name="20 min").click()
    page.get_by_role("button", name="Stop warming").wait_for()
    served.call(lambda: in_trouble(house))
    page.goto(served.url)
    assert faults(page) == []
    page.get_by_role("button", name="All off").click()
    page.get_by_role("button", name="Turn heating on").wait_for()
    assert faults(page) == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_on_the_join_page(house: Double, phone: Phone, theme: str) -> None:
    """Joining is clean too, refused or not."""
    with Served(house, open=False) as served:
        page = phone(color_scheme=theme, bypass_csp=True)
        page.goto(served.url)
        assert faults(page) == []
        page.get_by_label("Code").fill("11112222")
        page.get_by_label("A name").fill("Ana")
        page.get_by_role("button", name="Join").click()
        page.get_by_role("alert").wait_for()
        assert faults(page) == []


def test_what_is_touched_is_large_enough(served: Served, phone: Phone) -> None:
    """What stands by itself to be touched is at least 44 px high (WCAG 2.2 asks 24; links in sentences are exempt)."""
    page = phone()
    for path in ("/", "/room/study", "/room/study/week", "/phone", "/people", "/owner", "/owner/heaters"):
        page.goto(served.url + path)
        small = page.evaluate(
            """() => [...document.querySelectorAll(
                 'button, summary, nav a, header a, a.to, a.stave-of, .list a, select, label.tick, input')]
                 .filter(el => el.checkVisibility() && !['checkbox', 'hidden'].includes(el.type))
                 .filter(el => el.getBoundingClientRect().height < 44).map(el => el.outerHTML.slice(0, 120))"""
        )
        assert small == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_text_at_twice_the_size_is_not_cut(served: Served, phone: Phone) -> None:
    """At 200 % (a 320 px phone shown at 160 px wide would be worse than the standard asks) nothing runs off at 320."""
    page = phone(viewport={"width": 640, "height": 900})
    page.goto(served.url)
    page.evaluate("document.documentElement.style.zoom = 2")
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth + 1")


def test_the_first_visit_is_light(served: Served) -> None:
    """HTML, style, script and icon of a first visit are under 25 kB, compressed as sent."""
    total = 0
    for path in ("/", "/static/page.css", "/static/page.js", "/static/icon.svg"):
        line = http.client.HTTPConnection(served.address)
        line.request("GET", path, headers={"accept-encoding": "gzip"})
        answer = line.getresponse()
        body = answer.read()
        if answer.headers.get("content-encoding") == "gzip":
            assert gzip.decompress(body)
        total += len(body) + len(str(answer.headers))
        line.close()
    print(f"first visit: {total} bytes")
    assert total < FIRST_VISIT_BYTES


@pytest.mark.skipif(
    "THERMOSTATD_SHOTS" not in os.environ, reason="set THERMOSTATD_SHOTS to a folder to keep screenshots"
)
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 414, 1280])
def test_screenshots(served: Served, phone: Phone, width: int, theme: str) -> None:
    """Pictures of the page at four widths in both themes, kept for a person to look at."""
    page = phone(viewport={"width": width, "height": 740}, color_scheme=theme)
    page.goto(served.url)
    page.wait_for_timeout(200)
    page.screenshot(path=Path(os.environ["THERMOSTATD_SHOTS"]) / f"page-{width}-{theme}.png")
