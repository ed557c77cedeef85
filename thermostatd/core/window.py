"""An opened window, by how fast the air falls: heating pauses, says so, and goes on by itself.

Rules: a fall within twelve minutes counts where it is clearly more than this room has shown of itself in the same
state (heated for a while, just switched off, or off for long), or where a model that was found good is clearly
surprised by it, never where it foresaw the fall; a leap that no air makes is none; a pause ends when the air recovers,
or after half an hour; a room that gets too cold is heated all the same. Cautious: a missed window costs some warmth,
a false alarm costs trust.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.house import House, Room
from thermostatd.core.memory import Memory, Notes, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand
from thermostatd.core.values import Reading

FALL_SECONDS = 720.0
SPACING_SECONDS = 100.0
HEATED, JUST_OFF, OFF = "heated", "just off", "off"
SETTLED_SECONDS = {HEATED: 900.0, JUST_OFF: 2400.0}
AT_FIRST_KELVIN = {HEATED: 1.0, JUST_OFF: 2.5, OFF: 1.2}
LEAST_KELVIN = {HEATED: 0.5, JUST_OFF: 1.0, OFF: 0.7}
MOST_KELVIN = 2.5
SURELY, MARGIN_KELVIN = 1.5, 0.25
STEPS = 3.5
LEAP_KELVIN, FASTEST_KELVIN_A_MINUTE = 1.0, 0.8
KNOWN_TIMES = 3
UP_SHARE, DOWN_SHARE = 0.25, 0.1
SURPRISED, SURPRISED_KELVIN, FORESEEN = -3.0, 0.5, -1.0
LONGEST_SECONDS = 1800.0
SOONEST_SECONDS = 300.0
RECOVERED_KELVIN = 0.3
QUIET_AFTER_SECONDS = 3600.0
FROST_MARGIN_KELVIN = 2.0


def paused(house: House, memory: Memory, readings: Readings, wants: Wants, now: Now) -> Wants:
    """The same wants, without heat for rooms whose window seems to be open."""
    rooms: dict[str, Demand] | None = None
    heaters: dict[str, Any] = {}
    for room in house.rooms:
        air = readings.air[room.name]
        if not room.heaters or not isinstance(air, Reading):
            continue
        until = watch(house, room, memory, air, now)
        demand = wants.rooms[room.name]
        if until is None or not demand.on:
            continue
        rooms, heaters = (dict(wants.rooms), dict(wants.heaters)) if rooms is None else (rooms, heaters)
        why = reason("window-open", until=now.text(now.wall_in(until - now.steady)))
        rooms[room.name] = replace(demand, on=False, share=0.0, reason=why)
        for key in (room.key_of(heater) for heater in room.heaters):
            if memory.heaters[key].hand is None:
                heaters[key] = (False, why)
    return wants if rooms is None else Wants(rooms, heaters)


def watch(house: House, room: Room, memory: Memory, air: Reading, now: Now) -> float | None:
    """The steady second until which heating pauses; None where no window seems to be open."""
    kept = memory.rooms[room.name]
    notes = kept.window
    fresh = air.at is not None and air.at > notes.get("at", -1.0)
    if not fresh and "since" not in notes:
        return None
    if fresh and air.at is not None:
        _take(notes, air.celsius, air.at)
    if "since" in notes:
        return _pause(house, room, notes, air.celsius, now)
    if _opened(room, kept, memory, air, now):
        notes.update(since=now.steady, lowest=air.celsius)
        return _pause(house, room, notes, air.celsius, now)
    return None


def _take(notes: Notes, celsius: float, at: float) -> None:
    """Keep the readings of the last minutes, a point each two minutes at most."""
    points = [point for point in notes.get("points", []) if point[0] >= at - FALL_SECONDS]
    if points and _leapt(points[-1], celsius, at):
        points = []
    if not points or at - points[-1][0] >= SPACING_SECONDS:
        points.append([round(at, 1), round(celsius, 3)])
    notes.update(points=points, at=at)


def _leapt(before: list[float], celsius: float, at: float) -> bool:
    """Whether a reading lies further down than air can fall that fast: a sensor that was moved, or mended."""
    fallen = before[1] - celsius
    return fallen >= LEAP_KELVIN and fallen > FASTEST_KELVIN_A_MINUTE * (at - before[0]) / 60.0


def _opened(room: Room, kept: RoomMemory, memory: Memory, air: Reading, now: Now) -> bool:
    """Whether the last minutes' fall tells of a window; if not, it is what this room does by itself."""
    notes = kept.window
    points = notes["points"]
    fall = max(point[1] for point in points) - air.celsius
    state = _state(room, memory, now)
    if notes.get("state") != state:
        _learn(notes, state)
    if now.steady < notes.get("quiet_until", 0.0):
        return False
    surprise, least = _surprise(room, kept), STEPS * kept.air.step
    surprised = surprise is not None and surprise <= SURPRISED and fall >= max(SURPRISED_KELVIN, least)
    foreseen = surprise is not None and surprise > FORESEEN
    if surprised or (not foreseen and fall >= max(_limit_kelvin(notes, state), least) - 1e-9):
        notes["peak"] = None  # what a window did is not this room's way
        return True
    if notes["peak"] is not None:
        notes["peak"] = max(notes["peak"], round(fall, 3))
    return False


def _limit_kelvin(notes: Notes, state: str) -> float:
    """The fall that tells of a window, K: well over what the room usually does in this state."""
    usual, times = notes.get("usual", {}).get(state, (0.0, 0))
    least = LEAST_KELVIN[state] if times >= KNOWN_TIMES else AT_FIRST_KELVIN[state]
    return min(MOST_KELVIN, max(least, SURELY * float(usual) + MARGIN_KELVIN))


def _learn(notes: Notes, state: str) -> None:
    """A stretch in one state is over: its steepest fall moves what is usual, up faster than down, never all the way."""
    before, peak = notes.get("state"), notes.get("peak")
    if before is not None and peak is not None:
        usual, times = notes.setdefault("usual", {}).get(before, (0.0, 0))
        share = max(UP_SHARE if peak > usual else DOWN_SHARE, 1.0 / (times + 1.0))
        notes["usual"][before] = [round(usual + share * (peak - usual), 3), min(times + 1, 99)]
    notes.update(state=state, peak=0.0)


def _surprise(room: Room, kept: RoomMemory) -> float | None:
    """How far the air is from what the model foresaw, in its own standard deviations, lately; None without one."""
    notes = kept.demand.get("predictive", {}) if room.control == "predictive" else {}
    if notes.get("state") is None or notes.get("at_odds"):
        return None
    return float(notes.get("surprise") or 0.0)


def _state(room: Room, memory: Memory, now: Now) -> str:
    """Heated for a while, off for long, or between."""
    heaters = [memory.heaters[room.key_of(heater)] for heater in room.heaters]
    began = [kept.on_since for kept in heaters if kept.told_on and kept.on_since is not None]
    if began and now.steady - max(began) >= SETTLED_SECONDS[HEATED]:
        return HEATED
    ended = [kept.off_since for kept in heaters if not kept.told_on and kept.off_since is not None]
    if not began and all(now.steady - at >= SETTLED_SECONDS[JUST_OFF] for at in ended):
        return OFF
    return JUST_OFF


def _pause(house: House, room: Room, notes: Notes, celsius: float, now: Now) -> float | None:
    """Hold on until the air recovers, half an hour has gone, or the room gets too cold."""
    notes["lowest"] = min(notes["lowest"], celsius)
    gone = now.steady - notes["since"]
    recovered = gone >= SOONEST_SECONDS and celsius >= notes["lowest"] + RECOVERED_KELVIN
    cold = celsius < max(room.cold_celsius, house.house.frost_celsius + FROST_MARGIN_KELVIN)
    if not recovered and not cold and gone < LONGEST_SECONDS:
        return float(notes["since"] + LONGEST_SECONDS)
    if recovered:
        notes.pop("fell_at", None)
    else:
        notes["fell_at"] = notes["since"]
    for name in ("since", "lowest"):
        notes.pop(name)
    notes.update(points=[], quiet_until=now.steady + QUIET_AFTER_SECONDS)
    return None
