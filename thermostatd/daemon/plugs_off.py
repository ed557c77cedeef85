"""Tells every plug of a house OFF over the broker, once: what the failure unit runs."""

from __future__ import annotations

import time

from thermostatd.core.house import House
from thermostatd.edge.clock import Clock
from thermostatd.edge.plugs import MqttPlug

WAIT_SECONDS = 20.0


def tell_all_off(house: House, wait_seconds: float = WAIT_SECONDS) -> list[str]:
    """Connect as each plug, which tells OFF, and leave; gives the keys of those that could not be told.

    Plugs that are not on the broker cannot be told this way, and are among them.
    """
    clock = Clock()
    described = [(key, heater.plug) for key, heater, _ in house.heaters() if heater.plug.kind == "mqtt"]
    elsewhere = [key for key, heater, _ in house.heaters() if heater.plug.kind != "mqtt"]
    plugs = [MqttPlug(key, plug, house, clock.now) for key, plug in described]
    for plug in plugs:
        plug.start()
    deadline = clock.now() + wait_seconds
    while clock.now() < deadline and not all(plug.connected for plug in plugs):
        time.sleep(0.05)
    left = [plug.key for plug in plugs if not plug.connected]
    for plug in plugs:
        plug.stop()
    return left + elsewhere
