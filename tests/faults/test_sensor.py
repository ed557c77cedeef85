"""Faults 1 to 3: a sensor that is silent, lies, or left an old value behind."""

from __future__ import annotations

import time

from tests.daemon.home import Home
from tests.faults.conftest import Measure, room, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug


def test_silent(broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure) -> None:
    """A sensor that falls silent: OFF one tick after `stale_after`, said in words, and one value mends it."""
    warm_up(broker, plug)
    measure(1, "sensor silent (stale_after 8 s): OFF", 11.0, lambda: not plug.on)
    assert wait_until(lambda: "silent" in str(room(home)), 3), room(home)
    assert room(home)["code"]
    assert room(home)["why"]
    broker.publish("study/air", "17.1")
    measure(1, "sensor heard again: heats again (min_off 1 s)", 5.0, lambda: plug.on)


LIES = (
    *("-127", "85", "NaN", "Infinity", "true", '"warm"', "68.0 F", '{"celsius": 20}'),
    *("[" * 5000, "9" * 1_000_000, "", "\x00", "1e999"),
)


def test_lying(broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure) -> None:
    """Values that cannot be air change nothing at once; as nothing better comes the heater ends OFF, said in words."""
    warm_up(broker, plug)
    for lie in LIES:
        _publish(broker, lie)
        time.sleep(0.1)
        assert plug.on, f"{lie[:12]!r} was believed"
    measure(2, f"{len(LIES)} kinds of lies from a sensor (stale_after 8 s): OFF", 11.0, lambda: not plug.on)
    assert room(home)["why"]
    for celsius in (
        "17.0",
        "17.1",
        "17.2",
    ):  # after an implausible value, three good ones, each in a tick of its own
        broker.publish("study/air", celsius)
        time.sleep(1.2)
    measure(2, "lies: heats again after the third good value", 3.0, lambda: plug.on)
    assert home.health()["ok"] is True


def _publish(broker: Mosquitto, payload: str) -> None:
    import paho.mqtt.publish as publish

    publish.single("study/air", payload, hostname="127.0.0.1", port=broker.port)


def test_retained_at_start(tmp_path, broker: Mosquitto, plug: StrangersPlug, measure: Measure) -> None:
    """A retained value met at the start may be days old: no heat comes of it; a fresh one heats."""
    broker.publish("study/air", "5.0", retain=True)
    with Home(tmp_path / "home", broker.port) as home:
        assert wait_until(lambda: home.house()["decided"], 8)
        time.sleep(4)
        assert not plug.on
        assert not any(order.payload.startswith("true") for order in plug.orders)
        assert room(home)["why"]
        broker.publish("study/air", "17.0")
        measure(3, "stale retained reading at start: no ON; a fresh one heats", 5.0, lambda: plug.on)
