"""A room that stays cold: watched so that somebody is told, whatever the cause. It decides nothing.

Rules: told once the air has been under the room's cold limit for half an hour, or a kelvin under what is wanted where
that is lower still; not while it comes up by itself; over when the air is there again. Near freezing it is told at
once, and loud: water in pipes does not wait; a kelvin over that it is a cold room as any. A room without a known
temperature has a trouble of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf

from thermostatd.core.clock import Now
from thermostatd.core.house import House, Room
from thermostatd.core.memory import Memory, RoomMemory
from thermostatd.core.reading import Readings, slope_kelvin_per_hour
from thermostatd.core.results import Target, Verdict
from thermostatd.core.said import said
from thermostatd.core.values import Reading

CODE = "cold-room"
PATIENCE_SECONDS = 1800.0
UNDER_KELVIN, OVER_KELVIN = 1.0, 0.5
COMES_UP_KELVIN_PER_HOUR = 0.5
LEFT_OPEN_SECONDS = 3 * 3600.0
FREEZES_CELSIUS, THAWED_CELSIUS = 3.0, 4.0  # at a sensor; a pipe in an outer wall is colder


def watch(house: House, memory: Memory, readings: Readings, targets: Mapping[str, Target], now: Now) -> None:
    """Note for each heated room whether, and since when, it is cold."""
    for room in house.rooms:
        air = readings.air[room.name]
        if room.heaters and isinstance(air, Reading):
            _note(room, memory.rooms[room.name], air.celsius, targets[room.name].celsius, now)


def verdict(kept: RoomMemory) -> Verdict | None:
    """What to tell of that room, if it has been cold for long enough."""
    notes = kept.cold
    if "evidence" not in notes:
        return None
    return Verdict(CODE, False, trouble=True, loud=bool(notes.get("freezes")), evidence=str(notes["evidence"]))


def _note(room: Room, kept: RoomMemory, celsius: float, wanted: float, now: Now) -> None:
    notes = kept.cold
    if notes.get("freezes") and celsius >= THAWED_CELSIUS:
        notes.clear()
    told = "evidence" in notes
    limit = min(room.cold_celsius, wanted - UNDER_KELVIN)
    if celsius >= limit + (OVER_KELVIN if told else 0.0) and celsius >= FREEZES_CELSIUS:
        notes.clear()
    elif celsius < FREEZES_CELSIUS:
        if not notes.get("freezes"):
            notes.update(freezes=True, evidence=said("It is at {celsius:.1f}°: water may freeze.", celsius=celsius))
    elif "since" not in notes or (_comes_up(kept, now) and not told):
        notes["since"] = now.steady
    elif not told and now.steady - notes["since"] >= PATIENCE_SECONDS:
        notes["evidence"] = _evidence(kept, celsius, limit, now)


def _comes_up(kept: RoomMemory, now: Now) -> bool:
    slope = slope_kelvin_per_hour(kept.air, now.steady)
    return slope is not None and slope >= COMES_UP_KELVIN_PER_HOUR


def _evidence(kept: RoomMemory, celsius: float, limit: float, now: Now) -> str:
    numbers = {"celsius": celsius, "limit": limit}
    if now.steady - kept.window.get("fell_at", -inf) < LEFT_OPEN_SECONDS:
        return said(
            "It is at {celsius:.1f}°, and has been under {limit:.1f}° for half an hour. It fell as it does when a "
            "window or an outside door stands open.",
            **numbers,
        )
    return said("It is at {celsius:.1f}°, and has been under {limit:.1f}° for half an hour.", **numbers)
