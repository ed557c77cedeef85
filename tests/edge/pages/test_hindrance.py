"""The page offers nothing that would be refused, and says in its place what would help."""

from __future__ import annotations

import re

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.asking import Stands
from thermostatd.edge.pages.door import Role


def part(page: str, anchor: str) -> str:
    """A room's or spot's own section."""
    return page.partition(f'id="{anchor}"')[2].partition("</section>")[0]


@pytest.mark.parametrize(
    ("path", "fields", "help_"),
    [("/out", {"until": "in-180"}, "Someone is back"), ("/all-off", {}, "Turn heating on again")],
)
def test_while_nothing_can_be_asked_no_button_asks(
    visit: Visit, house: Double, path: str, fields: dict[str, str], help_: str
) -> None:
    """Everyone out, or everything off: no warmer, no cooler, no minutes; what to press first stands there."""
    phone = visit()
    assert phone.get("/").text.count("data-step") == 8
    assert phone.post(path, data=fields).status_code == 303
    page = phone.get("/").text
    assert "data-step" not in page
    assert 'action="/ask"' not in page
    assert 'action="/warm-me"' not in page
    for anchor in ("at-study", "at-sewing-table"):
        assert f"First press “{help_}”, at the top." in part(page, anchor)
    assert re.search(rf"<button[^>]*>{help_}</button>", page)


@pytest.mark.parametrize(("path", "says"), [("/out", "Everyone is out."), ("/all-off", "Everything is off.")])
def test_a_room_guest_is_not_sent_to_a_button_it_has_not(visit: Visit, path: str, says: str) -> None:
    """A room guest reads who could help."""
    guest, phone = visit("room-guest", name="Eve", room="hall"), visit()
    assert "data-step" in guest.get("/").text
    phone.post(path)
    page = guest.get("/").text
    assert f"{says} Someone of the household can" in part(page, "at-hall")
    assert "data-step" not in page
    assert "First press" not in page


def test_a_spot_whose_heater_may_not_run_now_offers_no_minutes(visit: Visit, house: Double) -> None:
    """At night the owner allowed it not: said, not offered and refused."""
    for _ in range(int(8 * 3600 / 120)):
        house.tick()
    page = visit().get("/").text
    assert 'action="/warm-me"' not in page
    assert "The house is asleep, and the owner has not allowed this heater then." in part(
        page, "at-sewing-table"
    )


@pytest.mark.parametrize("role", ["household", "owner"])
def test_a_room_whose_heater_was_carried_away_says_where_it_stands(
    visit: Visit, house: Double, role: Role
) -> None:
    """Not "no heater is described": it is, and it stands in the hall."""
    phone = visit(role)
    house.regulator.do(house.moment(), Stands("study/column", "hall", "Ana"))
    house.house = house.regulator.house
    house.decide()
    for path in ("/", "/room/study"):
        page = phone.get(path).text
        study = part(page, "at-study") if path == "/" else page.partition("</section>")[0]
        assert "Its heater “column” stands in the room “hall” now, as the owner said." in study
        assert "No heater is described" not in study
        assert "data-step" not in study
    assert part(phone.get("/").text, "at-hall").count("data-step") == 2


def test_a_selector_with_one_known_setting_says_what_to_write(visit: Visit, house: Double) -> None:
    """A list of one is no choice: the house file can name the others."""
    page = visit("owner").get("/owner/heaters").text
    panel = page.partition('id="moved-hall/convector"')[2].partition("</details>")[0]
    assert "settings_watts = [600, 1300]" in panel
    assert 'name="watts"' not in panel
    assert 'name="watts"' in page.partition('id="moved-study/column"')[2].partition("</details>")[0]
