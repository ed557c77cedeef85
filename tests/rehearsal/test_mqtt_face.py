"""The simulated house on a real mosquitto, heard and told by a stranger's commands."""

import json
import time
from datetime import UTC, datetime

import pytest

from tests.parts.mosquitto import Mosquitto, wait_until
from tests.rehearsal.homes import PLAIN_METER, PLAIN_SENSOR
from thermostatd.core.house import House
from thermostatd.edge.broker import Heard
from thermostatd.edge.sensing import Sensing
from thermostatd.rehearsal import SimulatedHouse
from thermostatd.rehearsal.mqtt_face import MqttHouse

START = datetime(2026, 1, 12, 6, 0, tzinfo=UTC)
KEY, TELL = "den/column", "plug/1/set"
PLUG = {
    "kind": "mqtt",
    "tell": TELL,
    "timer": {"payload": "true {seconds}"},
    "shows": {"topic": "plug/1", "pointer": "/on"},
    "draws": {"topic": "plug/1", "pointer": "/kw", "scale": 1000},
    "volts": {"topic": "plug/1", "pointer": "/volts"},
    "warm": {"topic": "plug/1/warm"},
    "present": {"topic": "plug/1/there"},
    "ask_state": {"topic": "plug/1/get", "payload": "all"},
}
HOUSE = House.model_validate(
    {
        "house": {
            "name": "Invented",
            "outdoor": {"topic": "yard", "pointer": "/t", "unit": "F"},
            "forecast": {"topic": "hours", "pointer": "/air/hourly", "time": "/at", "unit": "F"},
        },
        "room": [
            {
                "name": "den",
                "sensor": {
                    "topic": "den/air",
                    "pointer": "/celsius",
                    "time": "/at",
                    "battery": {"topic": "den/air", "pointer": "/battery"},
                },
                "humidity": {"topic": "den/air", "pointer": "/damp"},
                "heater": [{"name": "column", "watts": 600, "plug": PLUG}],
            }
        ],
    }
)


@pytest.fixture
def broker(tmp_path):
    with Mosquitto(tmp_path) as started:
        yield started


def lively(broker, speed=60.0):
    """The invented house on that broker."""
    simulated = SimulatedHouse(
        HOUSE,
        seed=1,
        start=START,
        start_celsius=18.0,
        sensors={"den": PLAIN_SENSOR},
        meters={KEY: PLAIN_METER},
    )
    return MqttHouse(simulated, broker.host, broker.port, speed)


@pytest.fixture
def live(broker):
    with broker.listening() as stranger:
        house = lively(broker)
        house.start()
        yield broker, stranger, house
        house.stop()


def last(stranger, topic):
    """The last document of a topic, or an empty one."""
    payloads = stranger.payloads(topic)
    return json.loads(payloads[-1]) if payloads else {}


def test_devices_speak_as_the_file_says(live):
    """Pointers, scale and units of the file read every value right, the sensor's own time included."""
    _, stranger, _ = live
    assert wait_until(lambda: "kw" in last(stranger, "plug/1") and stranger.payloads("den/air"), 10)
    air, plug = last(stranger, "den/air"), last(stranger, "plug/1")
    assert 15 < air["celsius"] < 20
    assert datetime.fromisoformat(air["at"]).date() == START.date()
    assert air["battery"] == 100
    assert 10 < air["damp"] < 80
    assert plug["on"] is False
    assert plug["kw"] == 0
    assert 207 < plug["volts"] < 253
    assert wait_until(lambda: stranger.payloads("yard"), 10)
    assert -20 < (last(stranger, "yard")["t"] - 32) / 1.8 < 15
    assert stranger.payloads("plug/1/there") == ["online"]


def test_the_forecast_is_published_as_the_file_says_it_is_heard(live):
    """The daemon's own sensing makes of it the coming day of the house's own weather, °C."""
    _, stranger, house = live
    assert wait_until(lambda: stranger.payloads("hours"), 10)
    payload = stranger.payloads("hours")[0]
    at = datetime.fromisoformat(json.loads(payload)["at"])
    sensing = Sensing(HOUSE, lambda: 1000.0, lambda: at)
    sensing.take(Heard("hours", payload.encode(), False, 1000.0))
    began = (at - START).total_seconds()
    ahead = [house.simulated.weather.outdoor_celsius(began + 3600.0 * hour) for hour in range(25)]
    assert sensing.collect().forecast == pytest.approx(ahead, abs=0.06)


def test_an_order_reaches_the_plug_and_lapses(live):
    """A timed ON from a stranger shows, draws kilowatts, and ends by itself after its seconds."""
    broker, stranger, _ = live
    assert wait_until(lambda: stranger.payloads("plug/1"), 10)
    broker.publish(TELL, "true 120")
    assert wait_until(lambda: last(stranger, "plug/1")["on"] is True, 5)
    assert wait_until(lambda: 0.5 < last(stranger, "plug/1")["kw"] < 0.7, 5)
    assert wait_until(lambda: last(stranger, "plug/1")["on"] is False, 8)


def test_nonsense_told_to_a_plug_does_nothing(live):
    """Unknown words, binary and big payloads leave the plug off and the house alive."""
    broker, stranger, house = live
    assert wait_until(lambda: stranger.payloads("plug/1"), 10)
    for payload in ("maybe", "true -5", "\u00ff", "x" * 100_000):
        broker.publish(TELL, payload)
    before = house.simulated.steady
    assert wait_until(lambda: house.simulated.steady > before + 30, 5)
    assert last(stranger, "plug/1")["on"] is False


def test_a_plug_that_is_away_says_so_and_hears_nothing(live):
    """Presence turns to its word for away, an order is lost, and it comes back with its true state."""
    broker, stranger, house = live
    assert wait_until(lambda: stranger.payloads("plug/1/there"), 10)
    house.fault(KEY, "plug_offline")
    assert stranger.wait("plug/1/there", "offline", 5)
    count = len(stranger.payloads("plug/1"))
    broker.publish(TELL, "true 900")
    time.sleep(1.0)
    assert len(stranger.payloads("plug/1")) == count
    house.mend(KEY)
    assert wait_until(lambda: len(stranger.payloads("plug/1")) > count, 5)
    assert last(stranger, "plug/1")["on"] is False
    assert stranger.payloads("plug/1/there")[-1] == "online"


def test_a_press_on_the_button_is_published(live):
    """Someone presses the plug's button, and the broker hears of it."""
    _, stranger, house = live
    assert wait_until(lambda: stranger.payloads("plug/1"), 10)
    house.press(KEY)
    assert wait_until(lambda: last(stranger, "plug/1")["on"] is True, 5)


def test_an_asked_plug_answers_at_once(broker):
    """At life's own speed, asking brings a report long before the meter's period."""
    with broker.listening() as stranger:
        house = lively(broker, speed=1.0)
        house.start()
        try:
            assert wait_until(lambda: "kw" in last(stranger, "plug/1"), 10)
            count = len(stranger.payloads("plug/1"))
            broker.publish("plug/1/get", "all")
            assert wait_until(lambda: len(stranger.payloads("plug/1")) > count, 2)
        finally:
            house.stop()


def test_a_broker_that_comes_late_or_dies_is_joined_again(tmp_path):
    """Started before its broker, and after a kill −9, the house subscribes and tells its state afresh."""
    broker = Mosquitto(tmp_path)
    house = lively(broker)
    house.start()
    try:
        for _ in range(2):
            broker.start()
            with broker.listening("den/air") as stranger:
                assert wait_until(lambda: stranger.payloads("den/air"), 15)
            broker.publish(TELL, "true 100000")
            assert wait_until(lambda: house.simulated.report(KEY).on is True, 5)
            house.press(KEY)
            broker.kill()
    finally:
        house.stop()
        broker.stop()


def test_at_great_speed_the_wire_is_not_flooded(broker):
    """Forty rooms that bring some 800 messages a second put no more than 200 on the wire."""

    def plug(n):
        told = {"shows": "on", "draws": "watts", "volts": "volts"}
        return {"kind": "mqtt", "tell": f"p/{n}/set"} | {
            key: {"topic": f"p/{n}/{t}"} for key, t in told.items()
        }

    rooms = [
        {
            "name": f"r{n}",
            "sensor": {"topic": f"a/{n}"},
            "heater": [{"name": "h", "watts": 600, "plug": plug(n)}],
        }
        for n in range(40)
    ]
    many = House.model_validate({"room": rooms})
    traits = {room.name: PLAIN_SENSOR for room in many.rooms}
    meters = {key: PLAIN_METER for key, _, _ in many.heaters()}
    simulated = SimulatedHouse(many, seed=1, start=START, sensors=traits, meters=meters)
    house = MqttHouse(simulated, broker.host, broker.port, 400.0)
    house.start()
    try:
        assert wait_until(lambda: house.published > 40, 10)
        before, begun = house.published, time.monotonic()
        time.sleep(2.0)
        rate = (house.published - before) / (time.monotonic() - begun)
        assert 100 < rate < 260, "about 200, with a beat's leeway at both ends"
    finally:
        house.stop()


def test_a_house_asked_too_much_still_ends_soon(broker):
    """At a speed that no machine keeps, stopping takes seconds, not the whole backlog."""
    house = lively(broker, speed=900_000.0)
    house.start()
    time.sleep(1.0)
    begun = time.monotonic()
    house.stop()
    assert time.monotonic() - begun < 4


def test_a_standing_speed_is_refused():
    """Speed is over zero."""
    with pytest.raises(ValueError, match="speed"):
        MqttHouse(SimulatedHouse(HOUSE, seed=1, start=START), "127.0.0.1", 1883, 0.0)
