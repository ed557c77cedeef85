"""What is recognised and what is not, by values alone: no broker here."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as some

from thermostatd.core.house import House
from thermostatd.core.house.clashes import clashes
from thermostatd.edge.listening import BrokerWords, Ear, Findings, find, house_text
from thermostatd.edge.listening.ear import MOST_TOPICS, leaves
from thermostatd.edge.listening.words import name_from, stem

BROKER = BrokerWords("127.0.0.1", 1883)


def heard(*messages: tuple[float, str, object], retained: bool = False) -> Ear:
    """An ear that heard (second, topic, payload)."""
    ear = Ear()
    for at, topic, payload in messages:
        raw = payload if isinstance(payload, bytes) else str(payload).encode()
        ear.take(topic, raw, retained, at)
    return ear


def every(seconds: float, topic: str, *values: object) -> list[tuple[float, str, object]]:
    return [(number * seconds, topic, value) for number, value in enumerate(values)]


def test_a_temperature_has_its_evidence() -> None:
    """A named number that moves slowly is a temperature; pace and span are told."""
    found = find(heard(*every(60, "study/air", 18.2, 18.6, 19.1)))
    assert found.sensors[0].evidence[0] == "temperature-like, every 60 s, 18.2–19.1"
    assert found.sensors[0].name == "study"


@pytest.mark.parametrize(
    ("topic", "values"),
    [
        ("study/humidity", (45.1, 45.3, 45.2, 45.0)),
        ("study/battery", (20.5, 20.4, 20.5, 20.4)),
        ("study/air/pressure", (20.5, 20.4, 20.5, 20.4)),
        ("study/temperature", (18.0, 25.0, 18.0, 25.0)),
        ("study/temperature", ("NaN", "Infinity", "-inf")),
        ("study/temperature", (85.0, 85.0, 300.5, 85.0)),
        ("study/thing", (20, 21, 20, 21)),
        ("study/thing", (20.1, 20.1, 20.1, 20.1)),
    ],
)
def test_what_is_no_temperature(topic: str, values: tuple[object, ...]) -> None:
    """Other numbers, jumping ones, and those that are none are not taken for a room's air."""
    assert find(heard(*every(60, topic, *values))).sensors == ()


def test_a_retained_value_alone_proves_nothing() -> None:
    """What the broker kept may be years old: it makes no room."""
    assert find(heard((0, "study/air", 19.5), retained=True)).sensors == ()


@pytest.mark.parametrize(
    ("values", "unit", "scale"),
    [((64.4, 64.6), "F", 1.0), ((184, 185), "C", 0.1), ((1843, 1850), "C", 0.01), ((18.4, 18.5), "C", 1.0)],
)
def test_units_by_their_size(values: tuple[float, ...], unit: str, scale: float) -> None:
    """No room has 64 °C or 184 °C: those are °F, tenths and hundredths."""
    sensor = find(heard(*every(60, "study/temperature", *values))).sensors[0]
    assert (sensor.unit, sensor.scale) == (unit, scale)


def _switching(*more: tuple[float, str, object]) -> list[tuple[float, str, object]]:
    """A plug's state that changes four times, and further messages."""
    states = [
        (10.0 * n, "plug/7", json.dumps({"on": n % 2 == 1, "watts": 540 if n % 2 else 0.4})) for n in range(5)
    ]
    return sorted([*states, *more])


def _plug(*more: tuple[float, str, object]):
    return next(plug for plug in find(heard(*_switching(*more))).plugs if plug.name == "plug/7")


def _orders(topic: str, early: float = 0.2) -> list[tuple[float, str, object]]:
    return [(10.0 * n - early, topic, "true" if n % 2 else "false") for n in range(1, 5)]


def test_obeyed_orders_are_seen() -> None:
    """Orders that changed the state each time, on a topic that is named like one."""
    plug = _plug(*_orders("plug/7/set"))
    assert plug.orders.sure == "seen"
    assert plug.settled
    assert plug.draws.evidence.endswith("high while on, near zero while off")


def test_a_mirror_is_no_order() -> None:
    """A topic that says the same *after* the state changed is an echo, whatever it is called."""
    assert _plug(*_orders("plug/7/set", early=-0.2)).orders.sure == "guess"


def test_an_unnamed_one_is_only_perhaps() -> None:
    """A topic that behaves like orders and is not named so may be a mirror that is quick: not settled."""
    plug = _plug(*_orders("plug/7/contact"))
    assert plug.orders.sure == "perhaps"
    assert not plug.settled


def test_one_order_that_was_not_obeyed_spoils_it() -> None:
    """Orders that the state contradicts are none."""
    plug = _plug(*_orders("plug/7/set"), (45.0, "plug/7/set", "true"))
    assert plug.orders.sure == "guess"


def test_another_devices_orders_do_not_count() -> None:
    """Two things that switch at the same time, and whose topics have nothing in common: perhaps, and not settled."""
    assert not _plug(*_orders("lamp/set")).settled


def test_an_order_topic_that_the_broker_keeps_is_none() -> None:
    """A retained message there says that it is no order topic."""
    ear = heard(*_switching(*_orders("plug/7/set")))
    ear.take("plug/7/set", b"true", True, 50.0)
    plug = next(plug for plug in find(ear).plugs if plug.name == "plug/7")
    assert not plug.settled


def test_a_guess_is_never_ready() -> None:
    """A heater whose orders were never seen stands as comments; the file has none."""
    ear = heard(*_switching(), *every(60, "study/air", 18.2, 18.6, 19.1))
    text = house_text(find(ear), BROKER, "UTC")
    house = House.model_validate(tomllib.loads(text))
    assert list(house.heaters()) == []
    assert "A GUESS at its orders: plug/7/set" in text


def test_different_words_for_orders_and_state() -> None:
    """Orders ON and OFF, state true and false: both pairs stand in the file."""
    orders = [(10.0 * n - 0.2, "plug/7/set", "ON 60" if n % 2 else "OFF") for n in range(1, 5)]
    ear = heard(*_switching(*orders), *every(60, "study/air", 18.2, 18.6, 19.1))
    house = House.model_validate(tomllib.loads(house_text(find(ear), BROKER, "UTC")))
    plug = house.rooms[0].heaters[0].plug
    assert (plug.on, plug.off, plug.shows.on, plug.shows.off) == ("ON", "OFF", "true", "false")
    assert plug.timer.payload == "ON {seconds}"


def test_a_child_is_lost_with_its_root() -> None:
    """The root's last will holds for every child (Homie 5)."""
    described = {"homie": "5.0", "version": 1, "root": "hub", "nodes": {
        "air": {"properties": {"t": {"datatype": "float", "unit": "°F"}}}}}  # fmt: skip
    ear = heard(
        (0, "homie/5/child/$state", "ready"), (0, "homie/5/child/$description", json.dumps(described)),
        (0, "homie/5/hub/$state", "lost"),
    )  # fmt: skip
    sensor = find(ear).sensors[0]
    assert sensor.unit == "F"
    assert "state lost" in sensor.evidence[0]
    assert sensor.state_topic == "homie/5/hub/$state"


def test_a_device_of_the_older_layout() -> None:
    """Version 4, from memory: nodes and properties by their own topics."""
    told = {
        "$homie": "4.0.0", "$state": "ready", "$name": "Hall plug", "$nodes": "relay", "relay/$properties": "on,power",
        "relay/on/$datatype": "boolean", "relay/on/$settable": "true",
        "relay/power/$datatype": "float", "relay/power/$unit": "W",
    }  # fmt: skip
    plug = find(heard(*[(0, f"homie/hall-plug/{key}", value) for key, value in told.items()])).plugs[0]
    assert (plug.name, plug.switch.path, plug.device.version) == ("Hall plug", "relay/on", 4)


@pytest.mark.parametrize(
    "said", ["", "[]", "{}", "[" * 16000, '{"homie": "5.0", "nodes": {"a": 3}}', "nonsense"]
)
def test_a_device_that_describes_itself_badly(said: str) -> None:
    """A broken description is a note, never an end."""
    found = find(heard((0, "homie/5/odd/$state", "ready"), (0, "homie/5/odd/$description", said)))
    assert found.plugs == ()
    assert len(found.notes) == 1 or said == "{}" or found.sensors == ()


def test_a_flood_stays_small_and_does_not_crowd_out() -> None:
    """Ten thousand topics heard once keep 2 000 places, and one that is heard again finds room among them."""
    ear = Ear()
    for number in range(5000):
        ear.take(f"flood/{number}", b"1", False, 0.0)
    for second in range(5):
        ear.take("study/air", f"{18.2 + 0.1 * second}".encode(), False, 60.0 * second)
    for number in range(5000):
        ear.take(f"flood/more/{number}", b"1", False, 400.0)
    assert ear.topics <= MOST_TOPICS
    assert [sensor.topic for sensor in find(ear).sensors] == ["study/air"]


def test_stems() -> None:
    """Topics of one device share what is left without general words."""
    assert {stem(topic) for topic in ("plug/7", "plug/7/set", "plug/7/power", "set/plug/7")} == {"plug/7"}


@given(some.text(max_size=60))
def test_names_are_usable(text: str) -> None:
    """Whatever a device calls itself, the house file gets a name that it takes."""
    room = {"name": name_from(text, "room 1"), "sensor": {"topic": "a"}}
    assert House.model_validate({"room": [room]}).rooms[0].name


@given(some.binary(max_size=200))
def test_leaves_never_break(payload: bytes) -> None:
    """Any text gives plain values with pointers, and no error."""
    list(leaves(payload.decode("utf-8", "ignore")))


_WORDS = some.sampled_from(
    ["true", "false", "on", "19.5", "18.9", "online",
     '{"on": true, "watts": 3}', '{"celsius": 18.5}', "true 60", "null",
     '"', "]]\n[[room]]\nname='x'", '{"a\\"]\\n[x]": "true"}', "\x7f", "\u2028", "{", "NaN"]
)  # fmt: skip
_TOPICS = some.lists(
    some.sampled_from(["plug", "7", "set", "air", "study", 'x"]', "a\nb", "$state", "homie", "5",
                       "\x7f", "ünï", "temp", ""]),
    min_size=1, max_size=4,
).map("/".join)  # fmt: skip


@given(some.lists(some.tuples(some.floats(0, 400), _TOPICS, _WORDS, some.booleans()), max_size=40))
def test_whatever_was_heard_the_file_is_right(messages: list[tuple[float, str, str, bool]]) -> None:
    """Any messages give no file, or one that reads as TOML, holds no fault and drives no plug that was a guess."""
    ear = Ear()
    for at, topic, payload, retained in messages:
        ear.take(topic, payload.encode(), retained, at)
    found = find(ear)
    try:
        text = house_text(found, BROKER, "Europe/Oslo")
    except ValueError:
        assert not [one for one in found.sensors if not one.outdoor]
        return
    house = House.model_validate(tomllib.loads(text))
    assert not clashes(house)
    told = {plug.orders.topic for plug in found.plugs if plug.orders and plug.settled}
    assert {heater.plug.tell for _, heater, _ in house.heaters() if heater.plug.kind == "mqtt"} <= told


def _told_by_a_plug(*air: object) -> Ear:
    """A plug that tells its own temperature beside switch and power, all 0 and off; and a room's air."""
    told = json.dumps({"output": False, "power": 0, "chip": {"celsius": 31}})
    return heard(*sorted([*every(15, "plug/7", *[told] * 4), *every(15, "study/air", *air)], key=lambda one: one[0]))


def test_a_plugs_own_temperature_is_no_room() -> None:
    """What switches and meters tells its own warmth: it stands at the plug, and no room is made of it."""
    found = find(_told_by_a_plug(18.2, 18.3, 18.3))
    assert [one.name for one in found.sensors] == ["study"]
    assert "its own temperature, not a room's: temperature-like, every 15 s, 31" in found.plugs[0].evidence
    assert 'warm = { topic = "plug/7", pointer = "/chip/celsius" }' in house_text(found, BROKER, "UTC")


def test_a_power_of_nothing_is_no_second_switch() -> None:
    """0 W all the time, beside a switch of the same payload, makes one plug and not two."""
    (plug,) = find(_told_by_a_plug(18.2)).plugs
    assert plug.contact.trail.pointer == "/output"
    assert plug.draws.trail.pointer == "/power"


def test_a_room_sensor_with_a_flag_stays_a_room() -> None:
    """A yes or no beside the air, with no power and no word for a plug, makes no plug's warmth of it."""
    told = [json.dumps({"celsius": 18.2 + n / 10, "open": n > 1}) for n in range(4)]
    assert [one.name for one in find(heard(*every(60, "study/air", *told))).sensors] == ["study"]


def test_no_plug_goes_to_a_room_for_being_called_one() -> None:
    """A room whose sensor is called a plug's takes no other plug for that word."""
    ear = heard(*_switching(*_orders("plug/7/set")), *every(60, "plug 3/air", 18.2, 18.6, 19.1))
    house = House.model_validate(tomllib.loads(house_text(find(ear), BROKER, "UTC")))
    assert [room.heaters for room in house.rooms if room.name == "plug 3"] == [()]


@pytest.mark.parametrize("word", ["unavailable", "null"])
def test_a_sensor_that_is_away_now_and_then_is_found(word: str) -> None:
    """A word for "no value just now" is no reading, and the evidence says how often it came."""
    told = [json.dumps({"temperature": 18.2}), json.dumps({"temperature": None if word == "null" else word})]
    (sensor,) = find(heard(*every(10, "bath/air", *told, *told, told[0]))).sensors
    assert sensor.evidence == (f'temperature-like, every 10 s, 18.2; said "{word}" 2 times, which is no reading',)


def test_orders_that_failed_in_a_blink_are_called_wrong() -> None:
    """The file does not advise to try again what was tried."""
    plug = _plug()
    plug.disobeyed = True
    text = house_text(Findings(find(heard(*every(60, "study/air", 18.2, 18.6))).sensors, (plug,)), BROKER, "UTC")
    assert "NOT READY: told at plug/7/set it did not obey: these are not its orders" in text
