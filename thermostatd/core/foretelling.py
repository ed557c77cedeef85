"""What a learned model lets people be told: when it will be warm, what a heater cannot do, what the room is like.

Rules: numbers come from the law's outlook and the model, sentences from reasons.py alone; nothing is foretold where no
model decided, and where one did, no pace of the last minutes says otherwise; a time that is hours ahead is told to the
quarter of an hour; every number that was learned is told with its spread, two standard deviations either way.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Outlook, Reason
from thermostatd.core.said import said
from thermostatd.core.values import is_finite

SOON_SECONDS = 150.0
LONGEST_SECONDS = 12 * 3600.0
ROUGH_SECONDS, QUARTER_SECONDS = 5400.0, 900.0
SPREADS = 2.0
HALF_A_MINUTE_SECONDS = 30.0
COLDEST_CELSIUS, MILDEST_CELSIUS = -40.0, 25.0


def foretold(house: House, wants: Wants, now: Now) -> Wants:
    """The same wants; those that a model decided say when it will be warm, or what cannot be done."""
    rooms: dict[str, Demand] | None = None
    heaters: dict[str, Any] = {}
    for room in house.rooms:
        demand = wants.rooms[room.name]
        if demand.outlook is None or not demand.on:
            continue
        why = _why(demand, demand.outlook, now)
        if why is None:
            continue
        rooms, heaters = (dict(wants.rooms), dict(wants.heaters)) if rooms is None else (rooms, heaters)
        rooms[room.name] = replace(demand, reason=why)
        for heater in room.heaters:
            key = room.key_of(heater)
            if heaters[key][1] is demand.reason:  # not one that a press on the button stands in for
                heaters[key] = (heaters[key][0], why)
    return wants if rooms is None else Wants(rooms, heaters)


def _why(demand: Demand, outlook: Outlook, now: Now) -> Reason | None:
    """A better reason than the law's own, where there is one."""
    if outlook.reach_celsius is not None and demand.reason.code in ("warming", "preheating"):
        return _beyond(outlook, outlook.reach_celsius, now)
    if demand.reason.code != "warming":
        return None
    left = math.inf if outlook.warm_at is None else outlook.warm_at - now.steady
    if not SOON_SECONDS <= left <= LONGEST_SECONDS:
        return reason("warming", **{**demand.reason.numbers, "eta": ""}) if demand.reason.numbers["eta"] else None
    wanted = outlook.wanted_celsius
    return reason("warming", target=wanted, eta=_eta(wanted, left, now))


def _eta(wanted: float, left: float, now: Now) -> str:
    """When it will be warm: to the minute where it is near, and to the quarter of an hour where it is far."""
    rounded = left + HALF_A_MINUTE_SECONDS
    if rounded < ROUGH_SECONDS:
        at = now.text(now.wall_in(rounded))
        return said(" It will be {target:.1f}° at {at}.", target=wanted, at=at)
    quarter = QUARTER_SECONDS * round(now.wall_in(left).timestamp() / QUARTER_SECONDS)
    return said(" It will be {target:.1f}° at about {at}.", target=wanted, at=now.text(quarter))


def _beyond(outlook: Outlook, reach: float, now: Now) -> Reason:
    """What full power cannot do, and what it can."""
    outdoor = min(max(outlook.limit_outdoor_celsius, COLDEST_CELSIUS), MILDEST_CELSIUS)
    wanted = outlook.wanted_celsius
    if outlook.wanted_at is None:
        return reason("cannot-hold", target=wanted, reach=reach, outdoor=outdoor)
    # a clock cuts the seconds off: the step of 06:30 would be called 06:29
    by = now.text(now.wall_in(outlook.wanted_at - now.steady + HALF_A_MINUTE_SECONDS))
    return reason("cannot-reach", target=wanted, by=by, reach=reach, outdoor=outdoor)


def knows(memory: Memory, room: str) -> Reason | None:
    """What was learned of a room, in words: its loss in W/K, and how long it keeps its warmth; None: nothing yet."""
    model: Mapping[str, Any] = (memory.models.get(room) or {}).get("thermal") or {}
    loss, loss_spread = model.get("loss_watts_per_kelvin"), model.get("loss_spread_watts_per_kelvin")
    hours, hours_spread = model.get("settling_hours"), model.get("settling_spread_hours")
    if not (is_finite(loss) and is_finite(loss_spread) and is_finite(hours) and is_finite(hours_spread)):
        return None
    if loss <= 0.0 or hours <= 0.0:
        return None
    losses = {
        "loss": loss,
        "loss_low": max(0.0, loss - SPREADS * loss_spread),
        "loss_high": loss + SPREADS * loss_spread,
    }
    if SPREADS * hours_spread >= hours:  # "266 hours (0 to 598)" would tell nobody anything
        return reason("room-loses", **losses)
    hours_low, hours_high = hours - SPREADS * hours_spread, hours + SPREADS * hours_spread
    return reason("room-knows", **losses, hours=hours, hours_low=hours_low, hours_high=hours_high)
