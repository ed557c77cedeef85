"""From air and target to what is wanted of each heater: one control law a room, one request a spot.

Rules: no air, no demand; a law that fails ends in OFF; a press on a plug's own button, where the owner
allows it, stands in for the demand until it ends, and every interlock still watches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from thermostatd.core.circumstance import circumstance_of
from thermostatd.core.clock import Now
from thermostatd.core.demand import hysteresis, predictive, proportional, several
from thermostatd.core.demand.law import Case, Hush, Law
from thermostatd.core.house import Heater, House, Room, Spot
from thermostatd.core.memory import Memory, RoomMemory
from thermostatd.core.plug import drawn_watts, level_watts
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Reason, Target
from thermostatd.core.values import Missing
from thermostatd.core.week import next_clock, window_start

LAWS: Mapping[str, Law] = {
    "hysteresis": hysteresis.decide,
    "proportional": proportional.decide,
    "predictive": predictive.decide,
}


HUSH_AHEAD_SECONDS = 2700.0
PACED_SHARE = 0.7  # of what is sustained comes through between rests after which a shortest run fits


@dataclass(frozen=True, slots=True)
class Wants:
    """Each room's demand, and whether each heater is wanted on and why."""

    rooms: Mapping[str, Demand]
    heaters: Mapping[str, tuple[bool, Reason]]


def demands(
    house: House, memory: Memory, readings: Readings, targets: Mapping[str, Target], now: Now
) -> Wants:
    """What every room and spot wants."""
    rooms: dict[str, Demand] = {}
    heaters: dict[str, tuple[bool, Reason]] = {}
    for room in house.rooms:
        rooms[room.name], wanted = _of_heaters(house, room, memory, readings, targets[room.name], now)
        heaters |= wanted
    for spot in house.spots:
        heaters[spot.key] = _of_spot(spot, memory, now)
    cold = {room.key_of(one) for room in house.rooms if _is_cold(room, readings) for one in room.heaters}
    off = {room.key_of(one) for room in house.rooms if targets[room.name].code == "room-off" for one in room.heaters}
    for key, kept in memory.heaters.items():
        if kept.hand is not None and key in heaters and key not in (off if kept.hand.on else cold):
            heaters[key] = (kept.hand.on, reason("by-hand", until=now.text(kept.hand.until_wall)))
    return Wants(rooms, heaters)


def _is_cold(room: Room, readings: Readings) -> bool:
    """Whether it is so cold there that a press to OFF, hours ago perhaps, holds no longer."""
    air = readings.air[room.name]
    return not isinstance(air, Missing) and air.celsius < room.cold_celsius


def _of_heaters(
    house: House, room: Room, memory: Memory, readings: Readings, target: Target, now: Now
) -> tuple[Demand, dict[str, tuple[bool, Reason]]]:
    """The room's demand, and each heater's part in it; what fails here ends in OFF."""
    try:
        found = _parts(house, room, memory, readings, target, now)
        demand = _of_room(room, memory, readings, target, now, found)
        if found is not None and demand.reason.code != "demand-failed":
            return several.spread(room, memory, found, demand, now.steady)
    except Exception as fault:
        demand = Demand(False, 0.0, reason("demand-failed", what=type(fault).__name__))
    return demand, {room.key_of(heater): (demand.on, demand.reason) for heater in room.heaters}


def _parts(
    house: House, room: Room, memory: Memory, readings: Readings, target: Target, now: Now
) -> several.Parts | None:
    """Who does what in a room of several heaters."""
    air = readings.air[room.name]
    if len(room.heaters) < 2 or isinstance(air, Missing):
        return None
    circumstance, aim = circumstance_of(house, memory, now), _aim(room, memory, target, now)
    return several.parts(room, memory, air.celsius, aim, now.steady, now.seconds, circumstance)


def _aim(room: Room, memory: Memory, target: Target, now: Now) -> Target:
    """The target, or that of a rise which the law heats for already."""
    if room.control != "predictive":
        return target
    notes = memory.rooms[room.name].demand.get("predictive", {})
    rise = predictive.heats_for(notes, memory.models.get(room.name), now.steady)
    return target if rise is None or rise <= target.celsius else replace(target, celsius=rise)


def _of_room(
    room: Room, memory: Memory, readings: Readings, target: Target, now: Now, found: several.Parts | None
) -> Demand:
    air = readings.air[room.name]
    if not room.heaters:
        return Demand(False, 0.0, reason("no-heater"))
    if isinstance(air, Missing):
        return Demand(False, 0.0, reason("no-air"))
    kept = memory.rooms[room.name]
    outdoor = None if isinstance(readings.outdoor, Missing) else readings.outdoor.celsius
    full, drawn = _power(room, memory)
    switched = found.trim if found else room.heaters
    trimmed = sum(level_watts(memory.heaters[room.key_of(h)], h) for h in switched)
    model = memory.models.get(room.name)
    if found and room.control == "proportional" and full:
        model = several.scaled_model(model, trimmed / full)
    others = {
        name: r.celsius
        for name, r in readings.air.items()
        if name != room.name and not isinstance(r, Missing)
    }
    local = now.best.astimezone(now.zone)
    case = Case(
        room,
        air.celsius,
        target,
        now.steady,
        now.seconds,
        was_on=any(memory.heaters[room.key_of(heater)].told_on for heater in switched),
        watts=sum(heater.watts for heater in switched),
        outdoor_celsius=outdoor,
        air=kept.air,
        notes=kept.demand.setdefault(room.control, {}),
        model=model,
        full_watts=trimmed,
        lasting_watts=_lasting_watts(room, memory, found.sound if found else switched),
        base_watts=_base_watts(room, memory, found),
        drawn_watts=drawn,
        neighbours_celsius=sum(others.values()) / len(others) if others else None,
        neighbours_told=tuple(memory.rooms[name].demand.get("predictive", {}).get("ahead") for name in others),
        switched=_switched(room, memory, switched),
        day_minute=local.hour * 60.0 + local.minute,
        hush=_hush(room, kept, now) if room.quiet else None,
        forecast=readings.forecast,
    )
    try:
        demand = LAWS[room.control](case)
    except Exception as fault:
        return Demand(False, 0.0, reason("demand-failed", what=type(fault).__name__))
    finite = math.isfinite(demand.share) and demand.on in (True, False)
    return demand if finite else Demand(False, 0.0, reason("demand-failed", what="not a finite share"))


def _power(room: Room, memory: Memory) -> tuple[float, float]:
    """What the room's heaters would draw, W, and what they have drawn since the last step; metered where they are."""
    full = drawn = 0.0
    for heater in room.heaters:
        kept = memory.heaters[room.key_of(heater)]
        full += level_watts(kept, heater)
        if kept.told_on:
            drawn += drawn_watts(kept, heater)
    return full, drawn


def _lasting_watts(room: Room, memory: Memory, heaters: Sequence[Heater]) -> float:
    """What heaters can go on giving, W: those on a setting above what they sustain are paced."""
    total = 0.0
    for heater in heaters:
        kept = memory.heaters[room.key_of(heater)]
        sustained = kept.facts.sustained_watts or heater.sustained_watts or math.inf
        level = level_watts(kept, heater)
        total += level if sustained >= level else PACED_SHARE * sustained
    return total


def _hush(room: Room, kept: RoomMemory, now: Now) -> Hush | None:
    """The quiet hours that hold now, or begin soon."""
    wall = now.best.timestamp()
    for quiet in room.quiet:
        begun = window_start(now.best, quiet.begins, quiet.ends, now.zone)
        end = next_clock(now.best, quiet.ends, now.zone)
        ends, until = end.timestamp() - wall + now.steady, now.text(end)
        if begun is not None:
            same = kept.quiet_window is not None and abs(kept.quiet_window - begun) <= 3600.0 * 4
            left = max(0, quiet.switches - (kept.quiet_used if same else 0))
            return Hush(now.steady, ends, left, quiet.switches, until)
        ahead = next_clock(now.best, quiet.begins, now.zone).timestamp() - wall
        if ahead <= HUSH_AHEAD_SECONDS:
            return Hush(now.steady + ahead, ends, quiet.switches, quiet.switches, until)
    return None


def _base_watts(room: Room, memory: Memory, found: several.Parts | None) -> float:
    """What heats steadily beside what the law switches, W."""
    base = found.base if found else ()
    return sum(level_watts(memory.heaters[room.key_of(h)], h) for h in base)


def _switched(room: Room, memory: Memory, heaters: Iterable[Heater]) -> float | None:
    """The steady second at which what the law switches was last switched."""
    kept = [memory.heaters[room.key_of(heater)] for heater in heaters]
    times = [one.on_since if one.told_on else one.off_since for one in kept]
    return max((at for at in times if at is not None), default=None)


def _of_spot(spot: Spot, memory: Memory, now: Now) -> tuple[bool, Reason]:
    request = memory.spots.get(spot.name)
    if request is None or request.ends is None or not now.steady < request.ends:
        return False, reason("spot-off")
    return True, reason("spot-on", minutes=float(-(-(request.ends - now.steady) // 60.0)))
