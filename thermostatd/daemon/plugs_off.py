"""Tells every plug of a house OFF, once: what the failure unit runs."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

from thermostatd.core.house import House
from thermostatd.edge.clock import Clock
from thermostatd.edge.plugs import make_plug

WAIT_SECONDS = 20.0


def tell_all_off(house: House, wait_seconds: float = WAIT_SECONDS) -> list[str]:
    """Start each plug, which tells OFF, and leave; gives the keys of those that could not be told.

    Simulated plugs cannot be told, and are among them.
    """
    clock = Clock()
    described = [(key, heater.plug) for key, heater, _ in house.heaters()]
    plugs = [make_plug(key, plug, house, clock.now) for key, plug in described if plug.kind != "simulated"]
    for plug in plugs:
        plug.start()
    deadline = clock.now() + wait_seconds
    while clock.now() < deadline and not all(plug.connected for plug in plugs):
        time.sleep(0.05)
    left = [plug.key for plug in plugs if not plug.connected]
    with ThreadPoolExecutor(max_workers=32) as pool:
        list(pool.map(lambda plug: plug.stop(), plugs))
    return left + [key for key, plug in described if plug.kind == "simulated"]
