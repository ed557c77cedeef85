"""What people at home do, in a real browser on a small phone, with the script and without."""

from __future__ import annotations

import asyncio
import re
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Phone
from tests.browser.served import Served
from tests.edge.pages.double import Double
from tests.parts.mosquitto import wait_until
from thermostatd.core.asking import Ask

both = pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
STUDY = "#at-study"
on_both_pages = pytest.mark.parametrize("path", ["/", "/room/study"], ids=["house", "room"])
"""A room is asked for on the house's page and on its own; what was asked is shown where it was asked."""


@both
@on_both_pages
def test_warmer(served: Served, house: Double, phone: Phone, script: bool, path: str) -> None:
    """A tap on warmer asks for half a degree more, until the end that held."""
    page = phone(java_script_enabled=script)
    page.goto(served.url + path)
    expect(page.locator(f"{STUDY} summary b")).to_have_text("20.5°")
    page.get_by_role("button", name="Warmer in the study").click()
    expect(page.locator(f"{STUDY} summary b")).to_have_text("21.0°")
    expect(page.locator(f"{STUDY} .whose span")).to_contain_text("Someone here asked")
    assert house.result is not None
    assert house.result.rooms["study"].target.celsius == 21.0
    assert urlsplit(page.url).path == path


@on_both_pages
def test_several_taps_are_one_request(served: Served, house: Double, phone: Phone, path: str) -> None:
    """Taps answer at once, and a row of them becomes one request; taps past the limit stop at it."""
    page = phone()
    page.goto(served.url + path)
    row = "(button, where) => [1, 2, 3, 4].map(() => (button.click(), document.querySelector(where).textContent))"
    warmer = page.get_by_role("button", name="Warmer in the study")  # a row of taps, however busy the machine
    assert warmer.evaluate(row, f"{STUDY} summary b") == ["21.0°", "21.5°", "22.0°", "22.0°"]
    expect(page.locator(f"{STUDY} .whose span")).to_contain_text("Someone here asked")
    assert [one.celsius for one in house.asked if isinstance(one, Ask)] == [22.0]
    expect(page.locator(f"{STUDY} div.bar")).to_contain_text("22° is most")


@on_both_pages
def test_a_tap_is_asked_though_the_page_is_left_at_once(
    served: Served, house: Double, phone: Phone, path: str
) -> None:
    """The number has moved, so the wish holds: also of one who goes on before the finger has rested."""
    page = phone()
    page.goto(served.url + path)
    page.get_by_role("button", name="Warmer in the study").evaluate(
        "button => { button.click(); button.click(); location.assign('/help'); }"
    )
    page.wait_for_url("**/help")
    assert wait_until(lambda: [one.celsius for one in house.asked if isinstance(one, Ask)] == [21.5], 10)


@both
@on_both_pages
def test_past_the_limit(served: Served, house: Double, phone: Phone, script: bool, path: str) -> None:
    """What the owner does not allow is answered beside the field, and what was typed stays."""
    page = phone(java_script_enabled=script)
    page.goto(served.url + path)
    page.locator(f"{STUDY} summary").click()
    page.get_by_label("Degrees", exact=True).first.fill("29")
    page.locator(f"{STUDY} button[value=in-60]").click()
    expect(page.locator(f"{STUDY} .panel .msg")).to_contain_text("22.0° is the warmest")
    expect(page.locator(f"{STUDY} [name=degrees]").last).to_be_visible()
    assert page.locator(f"{STUDY} input[name=degrees]").input_value() == "29"
    if script:
        served.call(house.tick)
        page.wait_for_timeout(500)
        expect(page.locator(f"{STUDY} .panel .msg")).to_contain_text("22.0° is the warmest")


@both
def test_all_off_and_back(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """One tap switches everything off; the page says who and when, and how to go back."""
    page = phone(java_script_enabled=script)
    page.goto(served.url)
    page.get_by_role("button", name="All off").click()
    expect(page.get_by_role("heading", name="Everything is off.")).to_be_visible()
    expect(page.get_by_text("Someone here said so at 16:12.").first).to_be_visible()
    assert not any(house.on.values())
    page.get_by_role("button", name="Turn heating on again").click()
    expect(page.get_by_role("button", name="All off")).to_be_visible()


@both
def test_warm_me(served: Served, phone: Phone, script: bool) -> None:
    """Twenty minutes of warmth on the spot, shown counting, stopped by a tap."""
    page = phone(java_script_enabled=script)
    page.goto(served.url)
    page.get_by_role("button", name="20 min").click()
    expect(page.locator("#at-sewing-table .now")).to_have_text("20 min")
    expect(page.locator("#at-sewing-table .care")).to_contain_text("burns")
    page.get_by_role("button", name="Stop warming at the sewing table").click()
    expect(page.get_by_role("button", name="20 min")).to_be_visible()


def _by_keyboard(page: Page, panel: str, opened_by: str, at: str) -> None:
    """Opens that panel and asks until a typed time, without a pointer."""
    page.get_by_text(opened_by).focus()
    page.keyboard.press("Enter")
    page.locator(f"#{panel} input[name=at]").fill(at)
    page.locator(f"#{panel} input[name=at]").press("Enter")


@both
def test_everyone_out_and_usual(served: Served, phone: Phone, script: bool) -> None:
    """Everyone out until a time, someone back; usual takes a wish back."""
    page = phone(java_script_enabled=script)
    page.goto(served.url)
    page.get_by_text("Everyone out").click()
    page.get_by_role("button", name="3 hours from now").click()
    expect(page.get_by_role("heading", name="Everyone is out until 19:12.")).to_be_visible()
    _by_keyboard(page, "return", "Change the return time", "20:30")
    expect(page.get_by_role("heading", name="Everyone is out until 20:30.")).to_be_visible()
    if script:
        expect(page.locator("#heard")).to_have_text("Everyone is out until 20:30. Someone here said so.")
    page.get_by_role("button", name="Someone is back").click()
    page.get_by_role("button", name="Back to usual in the study").click()
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("The usual week")


@both
def test_one_room_off(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """By the keyboard, on the room's own page, until a typed time; one tap on the house page turns it on again."""
    page = phone(java_script_enabled=script)
    page.goto(f"{served.url}/room/study")
    _by_keyboard(page, "off", "Turn this room off", "20:30")
    expect(page.locator(f"{STUDY} .bar .still")).to_have_text(re.compile("Off.*until 20:30"))
    expect(page.locator(f"{STUDY} .why")).to_contain_text("This room is off.")
    assert not house.on["study/column"]
    page.goto(served.url)
    for width in (320, 1200):  # side by side, on a phone as on a desk
        page.set_viewport_size({"width": width, "height": 740})
        tops = f"[...document.querySelectorAll('{STUDY} .bar > *')].map(part => part.getBoundingClientRect().top)"
        assert len(set(page.evaluate(tops))) == 1
    page.get_by_role("button", name="Turn the study on again").click()
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("The usual week")
    if script:
        expect(page.locator("#heard")).to_contain_text("Study: ")


@both
def test_a_wish_for_later(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """By the keyboard, on the room's own page; it waits there, shows on the house page, and is taken back."""
    page = phone(java_script_enabled=script)
    page.goto(f"{served.url}/room/study")
    page.get_by_text("Ask for later").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("21.5")
    page.locator("#later select").select_option("2")
    page.locator("#later input[name=at]").fill("18:30")
    page.locator("#later input[name=end]").fill("21:00")
    page.locator("#later input[name=end]").press("Enter")
    served.call(lambda: house.tick(10.0))
    page.goto(f"{served.url}/room/study")
    expect(page.locator(".waits li span")).to_have_text(re.compile("21.5° from Wed 18:30 until Wed 21:00"))
    page.goto(served.url)
    expect(page.locator(f"{STUDY} .whose span")).to_contain_text("21.5° from Wed 18:30")
    page.goto(f"{served.url}/room/study")
    page.get_by_role("button", name="Take back what was asked from Wed 18:30").click()
    served.call(lambda: house.tick(10.0))
    page.goto(f"{served.url}/room/study")
    expect(page.locator(".waits")).to_have_count(0)


@both
def test_join_by_code(house: Double, phone: Phone, script: bool) -> None:
    """A stranger is led to joining, types the code that the owner sees, and is in."""
    with Served(house, open=False, passphrase="seven grey herons") as served:
        code = asyncio.run_coroutine_threadsafe(house.add_code("household", 10), served.loop).result(5)
        page = phone(java_script_enabled=script)
        page.goto(served.url)
        expect(page).to_have_url(re.compile("/join$"))
        page.get_by_label("Code").fill("11112222")
        page.get_by_label("A name for this phone").fill("Ana")
        page.get_by_role("button", name="Join").click()
        expect(page.get_by_role("alert")).to_contain_text("not good")
        page.get_by_label("Code").fill(f"{code[:4]} {code[4:]}")
        page.get_by_role("button", name="Join").click()
        expect(page.get_by_role("heading", name="Quay House")).to_be_visible()
        expect(page.locator("footer")).to_contain_text("This phone is “Ana”")


def test_a_code_behind_the_address_fills_the_field(served: Served, house: Double, phone: Phone) -> None:
    """Scanning the square opens the join page with the code in its field, and out of the address."""
    with Served(house, open=False) as closed:
        page = phone()
        page.goto(f"{closed.url}/join#12345678")
        assert page.get_by_label("Code").input_value() == "12345678"
        assert page.url.endswith("/join")


def test_a_change_elsewhere_shows_within_a_second(served: Served, house: Double, phone: Phone) -> None:
    """What one phone asks the other shows at once, keeping what is open there and what has the focus."""
    one, other = phone(), phone()
    one.goto(served.url)
    other.goto(served.url)
    other.locator("#at-hall summary").click()
    other.get_by_label("Degrees", exact=True).last.fill("18.5")
    other.wait_for_timeout(300)
    one.get_by_role("button", name="Cooler in the long room").click()
    expect(other.locator("#at-long-room summary b")).to_have_text("20.0°")
    assert other.locator("#at-hall details").get_attribute("open") is not None
    assert other.locator("#at-hall input[name=degrees]").input_value() == "18.5"
    assert other.evaluate("document.activeElement.name") == "degrees"


def test_a_lost_connection_is_said(house: Double, phone: Phone) -> None:
    """When the house cannot be reached the page says so, and from when it is."""
    page = phone()
    with Served(house) as served:
        page.goto(served.url)
        page.wait_for_timeout(300)
    expect(page.locator("#lost")).to_contain_text("No connection to the house. What you see is from")


def test_three_rooms_fit_on_a_small_phone(served: Served, phone: Phone) -> None:
    """At 360 by 740 three whole rooms are in sight, and nothing is wider than the screen at 320."""
    page = phone()
    page.goto(served.url)
    assert page.evaluate("document.querySelectorAll('section.room')[2].getBoundingClientRect().bottom") <= 740
    for width in (320, 360, 414, 1280):
        page.set_viewport_size({"width": width, "height": 740})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_double_tap_and_the_back_button(served: Served, house: Double, phone: Phone) -> None:
    """A form sent twice and a page gone back to do no harm, and show what holds."""
    page = phone(java_script_enabled=False)
    page.goto(served.url)
    page.get_by_role("button", name="Warmer in the study").dblclick()
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Someone here asked")
    page.wait_for_load_state("networkidle")
    page.goto(f"{served.url}/help")
    page.go_back()
    expect(page.locator(f"{STUDY} summary b")).to_have_text(re.compile(r"21\.[05]°"))


def test_by_keyboard_alone(served: Served, house: Double, phone: Phone) -> None:
    """Everything is reached by Tab and Enter, and the focus stays where it was after an ask."""
    page = phone()
    page.goto(served.url)
    page.get_by_role("button", name="Warmer in the study").focus()
    page.keyboard.press("Enter")
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Someone here asked")
    assert (
        page.evaluate("document.activeElement.getAttribute('aria-label')")
        == "Warmer in the study, 22° is most"
    )
