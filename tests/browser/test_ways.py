"""The ways people really use a phone: slow network, asleep, two at once, changing one's mind, a week, a language."""

from __future__ import annotations

import asyncio

from playwright.sync_api import Page, expect

from tests.browser.conftest import Phone
from tests.browser.served import Served
from tests.browser.test_household import STUDY, both
from tests.edge.pages.double import Double
from thermostatd.core.asking import Ask, UsualWeek, WarmMe
from thermostatd.core.results import Trouble
from thermostatd.edge.pages.door import Role

WANTED = f"{STUDY} summary b"


def slow(page: Page, latency_ms: int) -> None:
    """A network with that latency each way, and 50 kB/s."""
    devtools = page.context.new_cdp_session(page)
    devtools.send("Network.enable")
    devtools.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": latency_ms, "downloadThroughput": 50_000, "uploadThroughput": 50_000},
    )


def join(page: Page, served: Served, role: Role, name: str, room: str | None = None) -> None:
    """Makes this phone a joined device, and opens the page."""

    async def get() -> str | None:
        return await served.double.join(await served.double.add_code(role, 10, room), name)

    token = asyncio.run_coroutine_threadsafe(get(), served.loop).result(5)
    page.context.add_cookies([{"name": "device", "value": token or "", "url": served.url}])
    page.goto(served.url)


@both
def test_undo(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """One tap takes a wish back: the old one holds again, under its own name."""
    page = phone(java_script_enabled=script)
    page.goto(served.url)
    page.get_by_role("button", name="Cooler in the study").click()
    expect(page.locator(WANTED)).to_have_text("20.0°")
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Someone here asked")
    page.get_by_role("button", name="Undo in the study").click()
    expect(page.locator(WANTED)).to_have_text("20.5°")
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Ana asked")
    expect(page.get_by_role("button", name="Undo in the study")).to_have_count(0)


def test_a_slow_network_holds_no_finger_up(served: Served, house: Double, phone: Phone) -> None:
    """With a second of delay the number still moves at once, and three taps are one request that arrives."""
    page = phone()
    page.goto(served.url)
    slow(page, 1000)
    # the number is there before the tap has returned
    shown = page.evaluate(
        """([button, number]) => [1, 2, 3].map(() => {
             document.querySelector(button).click(); return document.querySelector(number).textContent; })""",
        [f"{STUDY} button[data-way='1']", WANTED],
    )
    assert shown == ["21.0°", "21.5°", "22.0°"]
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Someone here asked")
    expect(page.locator(WANTED)).to_have_text("22.0°")
    assert [one.celsius for one in house.asked if isinstance(one, Ask)] == [22.0]


def test_a_lost_request_is_said_and_nothing_is_changed(served: Served, house: Double, phone: Phone) -> None:
    """Out of reach, a tap says that it did not arrive; back in reach the page shows what holds."""
    page = phone()
    page.goto(served.url)
    page.context.set_offline(True)
    page.get_by_role("button", name="Warmer in the study").click()
    expect(page.locator("#lost")).to_contain_text("did not reach the house")
    assert house.asked == []
    page.context.set_offline(False)
    expect(page.locator("#lost")).to_be_hidden(timeout=8000)
    expect(page.locator(WANTED)).to_have_text("20.5°")


def test_a_phone_that_was_asleep(served: Served, house: Double, phone: Phone) -> None:
    """A page that was frozen while the house went on shows the present within a moment of waking."""
    page = phone()
    page.goto(served.url)
    page.wait_for_timeout(200)
    devtools = page.context.new_cdp_session(page)
    devtools.send("Page.enable")
    devtools.send("Page.setWebLifecycleState", {"state": "frozen"})
    served.call(lambda: house.regulator.do(house.moment(), Ask("study", 17.0, who="Bo")))
    served.call(house.tick)
    devtools.send("Page.setWebLifecycleState", {"state": "active"})
    expect(page.locator(WANTED)).to_have_text("17.0°")
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Bo asked")


def test_two_phones_at_once(served: Served, house: Double, phone: Phone) -> None:
    """Two people ask different things in one room within a second: both phones show the later wish and whose it is."""
    one, other = phone(), phone()
    join(one, served, "household", "Ana")
    join(other, served, "household", "Bo")
    one.get_by_role("button", name="Warmer in the study").click()
    other.get_by_role("button", name="Cooler in the study").click()
    expect(other.locator(f"{STUDY} .whose span")).to_have_text("Bo asked")
    expect(one.locator(f"{STUDY} .whose span")).to_have_text("Bo asked")
    assert one.locator(WANTED).text_content() == other.locator(WANTED).text_content()
    expect(other.get_by_role("button", name="Undo in the study")).to_have_count(1)


@both
def test_the_week_on_a_phone(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """A day's steps are changed and copied to Saturday, shown as changed, and the file's week is put back."""
    page = phone(java_script_enabled=script)
    page.goto(f"{served.url}/room/study")
    page.get_by_role("link", name="The usual week").click()
    page.get_by_role("link", name="Tuesday").click()
    page.locator("input[name=at-0]").fill("06:15")
    page.locator("input[name=degrees-0]").fill("19,5")
    page.get_by_role("checkbox", name="Saturday").check()
    page.get_by_role("button", name="Keep this").click()
    expect(page.get_by_text("Changed on the page by Someone here")).to_be_visible()
    asked = [one for one in house.asked if isinstance(one, UsualWeek)][-1]
    days = {day for step in asked.steps or () if step.celsius == 19.5 for day in step.days}
    assert days == {1, 5}
    page.get_by_role("button", name="Put the house file").click()
    expect(page.get_by_text("As the house file says.")).to_be_visible()


@both
def test_a_guest_sees_no_button_it_may_not_press(house: Double, phone: Phone, script: bool) -> None:
    """A room guest finds its one room with its bar, and nothing else to press."""
    with Served(house, open=False) as served:
        page = phone(java_script_enabled=script)
        join(page, served, "room-guest", "Eve", "hall")
        expect(page.locator("section.room")).to_have_count(1)
        page.get_by_role("button", name="Warmer in the hall").click()
        expect(page.locator("#at-hall .whose span")).to_have_text("Eve asked")
        expect(page.get_by_role("button", name="All off")).to_have_count(0)


def test_another_language(served: Served, house: Double, phone: Phone) -> None:
    """A German phone reads German, types a comma, and may choose English for good."""
    page = phone(locale="de-DE")
    page.goto(served.url)
    expect(page.locator(WANTED)).to_have_text("20,5°")
    page.get_by_role("button", name="Wärmer: study").click()
    assert page.locator(WANTED).text_content() == "21,0°"
    expect(page.locator(f"{STUDY} .whose span")).to_have_text("Wunsch von Jemand hier")
    page.get_by_role("button", name="English").click()
    expect(page.get_by_role("button", name="Warmer in the study")).to_be_visible()
    page.reload()
    expect(page.locator(WANTED)).to_have_text("21.0°")


def test_a_running_spot_is_made_longer(served: Served, house: Double, phone: Phone) -> None:
    """Ten more minutes by one tap, while it runs."""
    page = phone()
    page.goto(served.url)
    page.get_by_role("button", name="20 minutes at the sewing table").click()
    page.get_by_role("button", name="10 more minutes at the sewing table").click()
    expect(page.locator("#at-sewing-table .now")).to_have_text("30 min")
    assert [one.minutes for one in house.asked if isinstance(one, WarmMe)] == [20, 30]


def test_a_screen_reader_hears_the_change(served: Served, house: Double, phone: Phone) -> None:
    """After a wish anywhere, a polite region tells room, target, whose wish and why; the name of each room tells air,
    target and limits."""
    page = phone()
    page.goto(served.url)
    heard = page.locator("#heard")
    assert heard.get_attribute("aria-live") == "polite"
    served.call(lambda: house.regulator.do(house.moment(), Ask("hall", 17.0, who="Bo")))
    served.call(house.decide)
    expect(heard).to_contain_text("Hall: 17.0°, Bo asked.")
    heard.evaluate("element => { element.known = true; }")
    page.evaluate("document.getElementById('main').dataset.old = 'so that it is replaced'")
    served.call(lambda: house.regulator.do(house.moment(), Ask("hall", 18.0, who="Bo")))
    served.call(house.decide)
    expect(heard).to_contain_text("Hall: 18.0°, Bo asked.")
    expect(page.locator("#main[data-old]")).to_have_count(0)
    assert heard.evaluate("element => element.known"), "a region that is replaced is not read out"
    served.call(lambda: house.regulator.do(house.moment(), Ask("hall", 17.0, who="Bo")))
    served.call(house.decide)
    expect(heard).to_contain_text("Hall: 17.0°, Bo asked.")
    spoken = page.locator("#at-hall p.now").text_content() or ""
    assert spoken.startswith("Air 15.")
    assert "wanted 17.0°; from 12° to 19° may be asked" in spoken


def test_nothing_moves_for_who_wants_no_motion(served: Served, phone: Phone) -> None:
    """No animation or transition runs on the page."""
    page = phone(reduced_motion="reduce")
    page.goto(served.url)
    page.get_by_role("button", name="Warmer in the study").click()
    assert page.evaluate("document.getAnimations().length") == 0


def test_it_prints(served: Served, phone: Phone) -> None:
    """On paper there are rooms and traces, and no buttons."""
    page = phone()
    page.goto(served.url)
    page.emulate_media(media="print")
    assert page.evaluate(
        "[...document.querySelectorAll('button, summary')].every(el => !el.checkVisibility())"
    )
    assert page.evaluate("[...document.querySelectorAll('.rail, .plot')].every(el => el.checkVisibility())")


def test_a_screen_reader_hears_what_holds_for_the_whole_house(
    served: Served, house: Double, phone: Phone
) -> None:
    """All off, everyone out, their ends and a new trouble are said once and alone, not room by room."""
    page = phone()
    page.goto(served.url)
    heard = page.locator("#heard")
    page.get_by_role("button", name="All off").click()
    expect(heard).to_have_text("Everything is off. Someone here said so at 16:12.")
    page.get_by_role("button", name="Turn heating on again").click()
    expect(heard).to_have_text("Rooms are heated again as the week says and as people ask.")
    page.locator("#out summary").click()
    page.get_by_role("button", name="3 hours from now").click()
    expect(heard).to_have_text("Everyone is out until 19:12. Someone here said so.")
    page.get_by_role("button", name="Someone is back").click()
    expect(heard).to_have_text("Rooms are heated again as the week says and as people ask.")
    house.troubles = (
        Trouble("study/battery-low", "battery-low", "A battery is low.", "8 %.", "Change it.", house.wall),
    )
    served.call(house.decide)
    expect(heard).to_have_text("A battery is low. Change it.")
