"""What is chosen and typed in an open panel stays, and Enter in it means what is typed: on a phone, both ways."""

from __future__ import annotations

import asyncio

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import Phone
from tests.browser.served import Served
from tests.browser.test_household import STUDY, both
from tests.edge.pages.double import Double
from thermostatd.core.asking import Ask, Out

DAY = "#out select[name=day]"
TIME = "#out input[name=at]"


def went_on(served: Served, house: Double, page: Page) -> None:
    """The house decides anew, and the open page shows it."""
    page.wait_for_timeout(300)
    page.evaluate("document.getElementById('top').dataset.old = 'until it is shown anew'")
    served.call(lambda: house.tick(180.0))
    expect(page.locator("#top[data-old]")).to_have_count(0)


def at_out(served: Served, page: Page) -> Page:
    """The house page with its panel of everyone out open."""
    page.goto(served.url)
    page.locator("#out summary").click()
    return page


def out_of(house: Double) -> Out:
    """The last thing asked, which is that everyone is out."""
    asked = house.asked[-1]
    assert isinstance(asked, Out)
    return asked


def test_a_chosen_day_stays_while_the_page_follows_the_house(
    served: Served, house: Double, phone: Phone
) -> None:
    """Thursday 23:50 is still Thursday after a refresh, and that is what is asked: not today."""
    page = at_out(served, phone())
    page.locator(DAY).select_option("3")
    page.locator(TIME).fill("23:50")
    went_on(served, house, page)
    assert (page.locator(DAY).input_value(), page.locator(TIME).input_value()) == ("3", "23:50")
    page.locator("#out button[value=at]").click()
    expect(page.get_by_role("heading", name="Everyone is out until Thu 23:50.")).to_be_visible()
    assert str(out_of(house).until) == "2026-01-15 23:50:00+01:00"


@pytest.mark.parametrize("overtaken_by", ["the house", "a tap"])
def test_an_old_page_that_comes_late_is_not_shown(
    served: Served, house: Double, phone: Phone, overtaken_by: str
) -> None:
    """An answer that was held up on its way, and overtaken by a newer one, changes nothing any more."""
    page, held = phone(), []

    def hold(route: Route) -> None:
        if held or route.request.method != "GET":
            route.continue_()
        else:
            held.append((route, route.fetch()))

    page.goto(served.url)
    went_on(served, house, page)
    page.route(served.url + "/", hold)
    served.call(lambda: house.tick(180.0))
    for _ in range(100):  # until the page has asked, and its answer is on its way
        if held:
            break
        page.wait_for_timeout(100)
    assert held
    if overtaken_by == "a tap":
        page.get_by_role("button", name="Warmer in the study").click()
    else:
        served.call(lambda: asyncio.ensure_future(house.do(Ask("study", 21.0, who="Ana"))))
        served.call(lambda: house.tick(180.0))
    wanted = page.locator(f"{STUDY} summary b")
    expect(wanted).to_have_text("21.0°")
    page.wait_for_timeout(1500)  # until the house has answered, where it was a tap
    route, answer = held[0]
    route.fulfill(response=answer)
    page.wait_for_timeout(500)
    assert wanted.text_content() == "21.0°"


@both
def test_a_panel_that_went_opens_no_other_in_its_place(served: Served, phone: Phone, script: bool) -> None:
    """Another return was being chosen when someone was back: nobody is asked when they are out."""
    page = at_out(served, phone(java_script_enabled=script))
    page.locator("#out button[value='in-180']").click()
    page.locator("#return summary").click()
    expect(page.locator("#return select")).to_be_visible()
    page.get_by_role("button", name="Someone is back").click()
    expect(page.locator("#out summary")).to_be_visible()
    expect(page.locator("#out select")).not_to_be_visible()


def test_a_day_that_has_become_today_is_today(served: Served, house: Double, phone: Phone) -> None:
    """Chosen on Monday evening, Tuesday is still meant after midnight, though it stands elsewhere in the list."""
    page = phone()
    for chosen, left in (("1", "0"), ("3", "2")):
        at_out(served, page)
        page.locator(DAY).select_option(chosen)
        served.call(lambda: house.tick(86_400.0))
        expect(page.locator(DAY)).to_have_value(left)


@both
def test_a_refused_time_leaves_the_day(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """Without a time it is refused; the day stays chosen, also when the house has gone on since."""
    page = at_out(served, phone(java_script_enabled=script))
    page.locator(DAY).select_option("3")
    page.locator("#out button[value=at]").click()
    expect(page.locator("#out .msg")).to_contain_text("hours and minutes")
    assert page.locator(DAY).input_value() == "3"
    if script:
        went_on(served, house, page)
        assert page.locator(DAY).input_value() == "3"


def test_a_room_chosen_for_a_heater_stays(served: Served, house: Double, phone: Phone) -> None:
    """The owner's lists keep what is chosen as well."""
    page = phone()
    page.goto(f"{served.url}/owner/heaters")
    box = page.locator("details[id^='moved-']").first
    box.locator("summary").click()
    box.locator("select[name=room]").select_option("hall")
    page.evaluate("document.getElementById('main').dataset.old = 'until it is shown anew'")
    page.wait_for_timeout(300)
    served.call(lambda: house.tick(1800.0))
    expect(page.locator("#main[data-old]")).to_have_count(0)
    expect(box.locator("select[name=room]")).to_have_value("hall")


@both
def test_enter_in_the_time_of_everyone_out_means_that_time(
    served: Served, house: Double, phone: Phone, script: bool
) -> None:
    """The Go of a phone's keyboard sends the day and the time, never "without end"."""
    page = at_out(served, phone(java_script_enabled=script))
    page.locator(DAY).select_option("2")
    page.locator(TIME).fill("18:00")
    page.locator(TIME).press("Enter")
    expect(page.get_by_role("heading", name="Everyone is out until Wed 18:00.")).to_be_visible()
    assert str(out_of(house).until) == "2026-01-14 18:00:00+01:00"


@both
def test_enter_without_a_time_asks_for_it(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """An empty time is no reason to leave the house cold without end."""
    page = at_out(served, phone(java_script_enabled=script))
    page.locator(TIME).press("Enter")
    expect(page.locator("#out .msg")).to_contain_text("hours and minutes")
    assert house.asked == []


@both
@pytest.mark.parametrize(("at", "until"), [("23:00", "2026-01-12 23:00:00+01:00"), ("", "NEXT_STEP")])
@pytest.mark.parametrize("field", ["degrees", "at"])
def test_enter_in_a_room_means_the_time_that_is_typed(
    served: Served, house: Double, phone: Phone, script: bool, at: str, until: str, field: str
) -> None:
    """In either field: until the time where one is typed, else until the week's next step, as the first choice says."""
    page = phone(java_script_enabled=script)
    page.goto(served.url)
    page.locator(f"{STUDY} summary").click()
    page.locator(f"{STUDY} input[name=degrees]").fill("19.5")
    page.locator(f"{STUDY} input[name=at]").fill(at)
    page.locator(f"{STUDY} input[name={field}]").press("Enter")
    expect(page.locator(f"{STUDY} summary b")).to_have_text("19.5°")
    asked = house.asked[-1]
    assert isinstance(asked, Ask)
    assert (asked.celsius, str(asked.until).rpartition(".")[2]) == (19.5, until)


@both
def test_a_button_pressed_means_itself(served: Served, house: Double, phone: Phone, script: bool) -> None:
    """A typed time does not change what a button says."""
    page = at_out(served, phone(java_script_enabled=script))
    page.locator(TIME).fill("18:00")
    page.get_by_role("button", name="someone says they are back").click()
    expect(page.get_by_role("heading", name="Everyone is out.")).to_be_visible()
    assert str(out_of(house).until).rpartition(".")[2] == "NO_END"
