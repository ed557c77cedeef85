"""The owner's pages: what is known, with its uncertainty, in drawings and in words."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.asking import SetTo, Stands
from thermostatd.core.facts import LevelFact, TripFact
from thermostatd.core.house import ForecastSource
from thermostatd.core.house.tables import Tariff
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Trouble
from thermostatd.edge.pages.door import FileLook
from thermostatd.edge.pages.owner_drawing import ruler_over

PAGES = ["heaters", "circuits", "troubles", "energy", "sensors", "rooms", "file"]


def text_of(page: str) -> str:
    """A page's words, without markup, entities and hard spaces."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page)).replace("\u00a0", " ").replace("&#39;", "'")


def owner(visit: Visit, name: str) -> str:
    """One of the owner's pages, as words."""
    return text_of(visit("owner").get(f"/owner/{name}").text)


@pytest.mark.parametrize("name", PAGES)
def test_only_the_owner_sees_them(visit: Visit, name: str) -> None:
    """The household is asked for the passphrase; a guest is refused."""
    assert visit().get(f"/owner/{name}").headers["location"] == "/owner"
    assert visit("guest").get(f"/owner/{name}").headers["location"] == "/owner"
    assert visit("owner").get(f"/owner/{name}").status_code == 200


def test_heaters_say_what_they_can_sustain(visit: Visit, house: Double) -> None:
    """Levels, sustained watts with their spread, openings of the cut-out, the relay's wear; else "not known yet"."""
    assert "What it can sustain not known yet" in owner(visit, "heaters")
    kept = house.regulator._memory.heaters["study/column"]  # as the meter will have taught it
    kept.facts.levels = [LevelFact(588.0, 4.0, 30), LevelFact(1290.0, 7.0, 9)]
    kept.facts.sustained_watts, kept.facts.sustained_spread_watts = 610.0, 15.0
    kept.facts.trips, kept.facts.trip_count = [TripFact(0.0, 660.0, 1290.0, 588.0)], 3
    kept.operations = 2500
    page = owner(visit, "heaters")
    assert "588 ± 4 W, 1290 ± 7 W" in page
    assert "What it can sustain 610 ± 15 W" in page
    assert "3 times, last after 11 min at 1290 W" in page
    assert "1250 of 100 000 cycles, 1.2 %" in page  # a cycle is on and off


def test_a_heater_moved_by_hand(visit: Visit, house: Double) -> None:
    """The owner says where a heater stands and what its selector is set to; a refusal stands beside the heater."""
    phone = visit("owner", name="Bo")
    assert phone.post("/owner/stands", data={"heater": "study/column", "room": "hall"}).status_code == 303
    assert house.asked[-1] == Stands("study/column", "hall", "Bo", origin="phone Bo")
    assert (
        phone.post("/owner/set-to", data={"heater": "hall/convector", "watts": "1200.0"}).status_code == 303
    )
    assert isinstance(house.asked[-1], SetTo)
    refused = phone.post("/owner/set-to", data={"heater": "hall/convector", "watts": "lots"})
    assert refused.status_code == 422
    hall = refused.text.partition('aria-label="hall, convector"')[2].partition("</section>")[0]
    assert "write watts such as 600" in hall
    assert phone.post("/owner/stands", data={"heater": "x/y", "room": "hall"}).status_code == 422
    assert visit().post("/owner/stands", data={"heater": "study/column", "room": "hall"}).status_code == 403


def test_a_circuits_amperes_stand_against_its_share(visit: Visit, house: Double) -> None:
    """Watts over nominal volts, against 80 % of the breaker (NEC 210.20; 16 A: 12.8 A)."""
    page = owner(visit, "circuits")
    watts = house.result.house.circuit_watts["north sockets"] if house.result else 0.0
    assert f"{watts / 230.0:.1f} A" in page
    assert "12.8 A for long, of a breaker of 16 A" in page
    assert "study, column 1300 W" in page


@pytest.mark.parametrize(
    ("code", "latched", "button"),
    [
        ("selector-moved", False, True),
        ("less-power", False, True),
        ("element-out", False, True),
        ("dial-down", False, True),
        ("cut-out", False, False),
        ("covered", True, True),
        ("covered", False, False),
    ],
)
def test_what_a_look_ends_has_its_button(
    visit: Visit, house: Double, code: str, latched: bool, button: bool
) -> None:
    """What says "say that you have looked", and what waits for it; nothing else."""
    house.troubles = (Trouble(f"hall/convector/{code}", code, "What.", "Seen.", "Do.", house.wall, latched=latched),)
    house.decide()
    assert ("I have looked at it" in visit("owner").get("/owner/troubles").text) is button


def test_troubles_have_evidence_and_a_button(visit: Visit, house: Double) -> None:
    """Each trouble with its evidence; one that latched waits for "I have looked at it"; the last week below."""
    told = Trouble("hall/convector/drawing-while-off", "drawing-while-off", "A plug that should be off carries power.",
                   "588 W measured after OFF.", "Pull it out.", house.wall, loud=True, latched=True)  # fmt: skip
    house.troubles = (told,)
    house.decide()
    phone = visit("owner")
    page = phone.get("/owner/troubles").text
    assert "588 W measured after OFF." in page
    assert "I have looked at it" in page
    house.troubles = (replace(told, seen=True),)
    house.decide()
    assert "The owner has looked at it." in phone.get("/owner/troubles").text
    answer = phone.post(
        "/seen", data={"trouble": "x"}, headers={"referer": "http://quay.local/owner/troubles"}
    )
    assert answer.status_code == 409


def test_energy_by_room_day_and_week(visit: Visit, house: Double) -> None:
    """What each room took since midnight is what its plugs drew; days and weeks add up."""
    midnight = house.wall.replace(hour=0, minute=0) - timedelta(hours=1)  # Oslo is an hour ahead
    watts = 1300 * 0.97
    runs = house.drawn["study/column"]
    took = sum(max(0.0, b - max(a, midnight.timestamp())) for a, b in runs) / 3.6e6 * watts
    row = re.search(r"Study ([\d. ]+)", owner(visit, "energy"))
    assert row is not None
    assert row[1].split()[0] == f"{took:.1f}"


def test_what_energy_cost(visit: Visit, house: Double) -> None:
    """With a tariff each number has its money, each kWh at the price of its hour; without one there is none."""
    assert "kr" not in owner(visit, "energy")
    dear = {"days": "daily", "from": "06:00", "to": "12:00", "per_kwh": 3.0}
    tariff = Tariff.model_validate({"currency": "kr", "per_kwh": 1.5, "prices": [dear]})
    house.house = house.house.model_copy(update={"tariff": tariff})
    midnight = house.wall.replace(hour=0, minute=0) - timedelta(hours=1)  # Oslo is an hour ahead
    cost = 0.0
    for begins, ends in house.drawn["study/column"]:
        for hour in range(24):
            since = (midnight + timedelta(hours=hour)).timestamp()
            hours = max(0.0, min(ends, since + 3600) - max(begins, since)) / 3600
            cost += hours * 1.3 * 0.97 * (3.0 if 6 <= hour < 12 else 1.5)
    page = visit("owner").get("/owner/energy").text
    cells = re.findall(r"<td>(.*?)</td>", page.partition("Study</th>")[2])
    told = re.search(r"</span>([\d.]+)<", cells[0])
    assert told is not None
    assert float(told[1]) == pytest.approx(cost, abs=0.011)
    assert "in kr, at the house file" in page


def test_sensors_and_plugs_with_their_age(visit: Visit, house: Double) -> None:
    """When each was last heard, what it said; one that is silent is marked."""
    house.silent.add("hall")
    for _ in range(40):
        house.tick()
    page = owner(visit, "sensors")
    assert re.search(r"Study \d+\.\d° just now", page)
    assert re.search(r"Hall the sensor has been silent for \d+ minutes 1 h \d+ min ago", page)
    assert re.search(r"Study/column o(n|ff), \d+ W just now", page)


def test_the_forecast_says_how_far_it_goes_and_reaches(visit: Visit, house: Double) -> None:
    """Coldest and warmest of the hours ahead, how many they are, and how long ago it was told; or that none holds."""
    assert "Forecast outside" not in owner(visit, "sensors")
    table = house.house.house.model_copy(update={"forecast": ForecastSource(topic="hours")})
    house.house = house.house.model_copy(update={"house": table})
    house.regulator = Regulator(house.house)
    house.tick()
    assert "Forecast outside none that still holds" in owner(visit, "sensors")
    house.forecast = (30.0, 1.0, -4.0, -7.0, -5.0)
    house.tick()
    house.forecast = ()
    assert "Forecast outside −7.0° to 30.0° in the next 4 h just now" in owner(visit, "sensors")
    for _ in range(30):
        house.tick()
    assert "Forecast outside −7.0° to 1.0° in the next 3 h 1 h ago" in owner(visit, "sensors")


def test_what_is_believed_of_a_room(visit: Visit, house: Double) -> None:
    """Loss and slowness with their uncertainty; a room without a model says so."""
    assert "Not known yet" in owner(visit, "rooms")
    thermal = {
        "constants": {"heater_seconds": 900.0, "sensor_seconds": 120.0},
        "loss_watts_per_kelvin": 38.0, "loss_spread_watts_per_kelvin": 2.5,
        "settling_hours": 14.0, "settling_spread_hours": 1.5, "held_out_kelvin": 0.11, "hours": 72.0,
    }  # fmt: skip
    house.regulator.adopt({"study": {"gain_kelvin": 34.2, "tau_seconds": 43000.0, "dead_seconds": 600.0,
                                     "residual_kelvin": 0.05, "thermal": thermal}})  # fmt: skip
    page = owner(visit, "rooms")
    assert (
        "It loses about 38 W for each degree between it and outdoors (33 to 43)." in page
    )  # two spreads of 2.5
    assert "Its heater gives its warmth within 15 min" in page
    assert "Two thirds of the way take 11 h 57 min" in page


def test_the_house_files_faults_have_their_lines(visit: Visit, house: Double) -> None:
    """Faults and cautions of the file on the disk, each with its line; whether it differs from what runs."""
    assert "runs without a file" in owner(visit, "file")
    house.file = FileLook(
        "/etc/house.toml",
        ((12, "room.study.control", '"magic" is no control law', 'Write "hysteresis".'),),
        ((3, "", "no outdoor sensor", "Add one."),),
        True,
    )
    page = owner(visit, "file")
    assert "line 12, room.study.control" in page
    assert "line 3" in page
    assert "It was changed" in page


def test_a_ruler_holds_all_and_prints_few() -> None:
    """Four to six round numbers, whatever the scale."""
    for high in (3.0, 16.0, 63.0, 900.0, 1500.0, 9000.0):
        ruler = ruler_over([high])
        assert 3 <= len(ruler.marks) <= 7
        assert ruler.x(high) <= 100
