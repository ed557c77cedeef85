"""Every page in every state: axe-core finds nothing in either theme, on a phone and on a desk; nothing runs off the
screen; a German page has no English left.

`THERMOSTATD_SHOTS=folder` keeps a picture of each stop for a person to look at.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Phone
from tests.browser.test_access import faults
from tests.browser.walk import walk
from tests.edge.pages.double import Double
from thermostatd.edge.pages.app import web_folder
from thermostatd.edge.pages.catalogues import read_po

REFERENCE = ""
"""A guide that is English only; there is none."""
SHOTS = os.environ.get("THERMOSTATD_SHOTS")
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 800}


def kept(label: str, page: Page, name: str) -> None:
    """A picture, where pictures are wanted."""
    if SHOTS:
        file = re.sub(r"[^\w]+", "-", label).strip("-") or "home"
        page.screenshot(path=Path(SHOTS) / f"{file}-{name}.png", full_page=True)


@pytest.mark.night
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_nothing_anywhere(house: Double, phone: Phone, theme: str, size: dict[str, int]) -> None:
    """No page and no state of one breaks a rule of WCAG 2.2 AA or of good practice."""
    found: dict[str, list[str]] = {}

    def check(label: str, page: Page) -> None:
        kept(label, page, f"{size['width']}-{theme}")
        found[label] = faults(page)
        print(f"axe, {theme}, {size['width']} px, {label}: {len(found[label]) or 'nothing'}")

    walk(house, phone, check, color_scheme=theme, viewport=size, bypass_csp=True)
    assert {label: told for label, told in found.items() if told} == {}
    assert len(found) > 55


@pytest.mark.night
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("width", [320, 414])
def test_nothing_runs_off_the_screen(house: Double, phone: Phone, width: int) -> None:
    """At the narrowest width that the standard asks for, and at a large phone's, no page scrolls sideways."""
    wide: list[str] = []

    def check(label: str, page: Page) -> None:
        kept(label, page, f"{width}-light")
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wide.append(label)

    walk(house, phone, check, viewport={"width": width, "height": 740})
    assert wide == []


def english() -> set[str]:
    """The whole texts of the catalogue that German says otherwise, without those that only names make."""
    entries = read_po((web_folder() / "locale" / "de.po").read_text())
    return {
        one
        for (one, many), told in entries.items()
        if one and not many and "{" not in one and told[0] != one and " " in one
    }


@pytest.mark.night
@pytest.mark.timeout(1200)
def test_a_german_page_has_no_english(house: Double, phone: Phone) -> None:
    """Nothing seen or heard is one of the English texts, save in parts that say that they are English."""
    texts, left = english(), []

    def check(label: str, page: Page) -> None:
        told = page.evaluate(
            """() => { const found = [], deep = node => {
                 if (node.nodeType === 3) found.push(node.data);
                 if (node.nodeType !== 1 || node.lang === 'en' || node.localName === 'script') return;
                 for (const name of ['aria-label', 'alt', 'title']) found.push(node.getAttribute(name) || '');
                 node.childNodes.forEach(deep); };
               deep(document.body); return found; }"""
        )
        words = {" ".join(one.split()) for one in told}
        if not label.startswith("/help/"):  # guides are held against the English ones elsewhere
            left.extend(f"{label}: {one}" for one in sorted(words & texts))
        parts = page.evaluate("[...document.querySelectorAll('[lang=en]')].map(el => el.localName)")
        left.extend(
            f"{label}: an English {one}" for one in parts if one not in ("button", "p") and label != REFERENCE
        )

    walk(house, phone, check, locale="de-DE")
    assert left == []
