"""From a stranger's reading to a stranger's plug, through a real broker and the real daemon."""

from __future__ import annotations

import json

from tests.daemon.home import Home, seconds_until
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug


def _retained(broker: Mosquitto, topic: str, good) -> dict:
    """What a newcomer hears on a topic, once it is as wanted."""
    with broker.listening(topic) as heard:
        assert wait_until(lambda: any(good(json.loads(p)) for p in heard.payloads(topic) if p)), heard.heard()
        assert heard.heard()[0][0], "it is retained"
        return json.loads(heard.payloads(topic)[-1])


def test_reading_to_order(broker: Mosquitto, plug: StrangersPlug, home: Home, record_property) -> None:
    """A cold reading switches the plug on within two ticks, with seconds to lapse, and a warm one switches it off."""
    broker.publish("study/air", "17.5")
    took = seconds_until(lambda: plug.on)
    record_property("reading to order, s", took)
    print(f"reading to ON {took:.2f} s")
    assert took <= 2.5
    on = [order for order in plug.orders if order.payload.startswith("true")][-1]
    seconds = int(on.payload.split()[1])
    assert seconds >= 900
    assert not on.retained
    assert on.expiry is not None
    assert on.expiry <= seconds

    room = _retained(broker, "thermostatd/room/study", lambda told: told["air"] == 17.5)
    assert list(room) == ["air", "at", "target", "until", "who", "code", "why"]
    assert room["target"] == 20
    assert room["who"] == "usual"
    assert room["code"]
    assert room["why"]
    heater = _retained(
        broker, "thermostatd/heater/study/column", lambda told: told["on"] and told["watts"] == 541
    )
    assert list(heater) == ["on", "watts", "lapses", "code", "why"]
    assert heater["lapses"]
    assert _retained(broker, "thermostatd/alive", lambda told: told is True) is True

    broker.publish("study/air", "21.5")
    took = seconds_until(lambda: not plug.on)
    print(f"reading to OFF {took:.2f} s")
    assert took <= 2.5
    assert plug.orders[-1].payload == "false"
    assert _retained(broker, "thermostatd/heater/study/column", lambda told: not told["on"])["lapses"] is None
