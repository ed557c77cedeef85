"""Tells every plug of a house OFF, once: what the failure unit runs.

Rules: its connections are its own, so that a daemon that runs keeps those of its plugs; a plug of the last good house
file is told as well, and one that left the house untold; what could not be told is named.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from thermostatd.core.house import House
from thermostatd.core.house import Plug as Description
from thermostatd.daemon.left_plugs import LeftPlug
from thermostatd.edge.broker import ALIVE_TOPIC, Feed, client_id_of
from thermostatd.edge.clock import Clock
from thermostatd.edge.plugs import PlugAdapter, make_plug

WAIT_SECONDS = 20.0
ALIVE_SECONDS = 1.0
OWN = "all-off"


@dataclass(frozen=True, slots=True)
class ToldOff:
    """How many were told, the keys of those that could not be, and whether a daemon runs at the broker."""

    told: int
    left: tuple[str, ...]
    daemon_runs: bool


def tell_all_off(
    house: House, wait_seconds: float = WAIT_SECONDS, also: House | None = None, left: Sequence[LeftPlug] = ()
) -> ToldOff:
    """Start each plug of the house, those that only `also` has, and what `left` it untold; each tells OFF; and leave.

    Simulated plugs cannot be told, and are among those left.
    """
    clock = Clock()
    described = _described([house, *([also] if also is not None else [])], left)
    plugs = [
        make_plug(key, plug, of, clock.now, own=f"{OWN} {number}")
        for number, (key, plug, of) in enumerate(described)
        if plug.kind != "simulated"
    ]
    ear = Feed(house.broker, client_id_of(house.house.name, OWN), clock.now, will=None)
    ear.want(ALIVE_TOPIC)
    ear.start()
    for plug in plugs:
        plug.start()
    runs = _wait(plugs, ear, clock, wait_seconds)
    untold = [plug.key for plug in plugs if not plug.connected]
    with ThreadPoolExecutor(max_workers=32) as pool:
        list(pool.map(lambda plug: plug.stop(), plugs))
    ear.stop()
    untold += [key for key, plug, _ in described if plug.kind == "simulated"]
    return ToldOff(len(described) - len(untold), tuple(untold), runs)


def _described(houses: Sequence[House], left: Sequence[LeftPlug]) -> list[tuple[str, Description, House]]:
    """Each plug once: the same plug at the same broker is one, whatever its heater is called."""
    every = [(key, heater.plug, house) for house in houses for key, heater, _ in house.heaters()]
    found: list[tuple[str, Description, House]] = []
    for key, its, house in (*every, *((one.key, one.plug, one.house) for one in left)):
        if not any(its == plug and house.broker == of.broker for _, plug, of in found):
            found.append((key, its, house))
    return found


def _wait(plugs: Sequence[PlugAdapter], ear: Feed, clock: Clock, seconds: float) -> bool:
    """Until each was told, so many seconds at most; gives whether a daemon says that it is alive."""
    began, alive = clock.now(), b""
    while clock.now() - began < seconds:
        alive = next((heard.payload for heard in ear.drain()), alive)
        known = alive or clock.now() - began >= ALIVE_SECONDS
        if known and all(plug.connected for plug in plugs):
            break
        time.sleep(0.05)
    return alive == b"true"
