"""Whether another room's air follows this heater, and this room's does not: what two swapped sensors look like.

Rules: a room tells of this heater only while its own heaters have been off for a while, so that whatever moves its air
is not theirs; a suspicion only asks for a rest, and the rest tells: that other air bends down with it. Part of
`no-answer`; bounds are fixed, and nothing here knows a fitted model.
"""

from __future__ import annotations

from thermostatd.core.guard.case import Case
from thermostatd.core.house import Room
from thermostatd.core.memory import AirMemory
from thermostatd.core.reading import slope_kelvin_per_hour

STILL_SECONDS = 1500.0  # of heat here, and of none there: longer than a heater's store
SETTLED_SECONDS = 720.0  # after which heat should show at a sensor
SLOPE_SECONDS = 1300.0
FALLEN_KELVIN, STEPS = 0.25, 1.1
LATELY_SECONDS, FRESH_SECONDS = 1200.0, 900.0
MOST_BESIDE = 2
UNDER_CEILING_KELVIN, RUNNING_KELVIN_PER_HOUR = 0.5, 0.5


def suspects(case: Case, celsius: float) -> bool:
    """Whether the air falls though this heater runs, and another room's holds or rises though its own rest."""
    since = _since_heat_shows(case)
    if case.air_memory is None or not since:
        return False
    if celsius > max(since) - max(FALLEN_KELVIN, STEPS * case.air_memory.step):
        return False
    return any(_holds(case.memory.rooms[room.name].air, case.now.steady) for room in _resting(case))


def heats_another(case: Case, celsius: float) -> bool:
    """Whether the air does not rise though this heater runs, and another room is at its ceiling and gets warmer yet,
    with its own heaters long off. The sun may do as much: it is no reason to name anything."""
    since = _since_heat_shows(case)
    return bool(since) and celsius <= min(since) and any(_runs_away(case, room) for room in _resting(case))


def _since_heat_shows(case: Case) -> list[float]:
    """The air, °C, since this run's heat should show; empty where it does not run for so long."""
    began, air = case.kept.on_since, case.air_memory
    if began is None or air is None or case.now.steady - began < STILL_SECONDS:
        return []
    return [value for at, value in air.trail if at >= began + SETTLED_SECONDS]


def beside(case: Case) -> dict[str, list[float]]:
    """The rooms that may tell of this heater: their air, °C, and its slope, K/h, as its rest begins."""
    found = {}
    for room in _resting(case):
        air = case.memory.rooms[room.name].air
        slope = slope_kelvin_per_hour(air, case.now.steady, SLOPE_SECONDS)
        if _fresh(air, case.now.steady) and slope is not None and air.celsius is not None:
            found[room.name] = [round(air.celsius, 3), round(slope, 3)]
    best = sorted(found, key=lambda name: found[name][1], reverse=True)[:MOST_BESIDE]
    return {name: found[name] for name in best}


def most_bent(case: Case, kept: dict[str, list[float]], seconds: float) -> tuple[str | None, float]:
    """The room whose air has bent down most in a rest of so many seconds, and by how much, K; (None, 0): none."""
    still = {room.name for room in _resting(case)} if kept else set()
    best: tuple[str | None, float] = (None, 0.0)
    for name in sorted(still & kept.keys()):
        celsius, slope = kept[name]
        air = case.memory.rooms[name].air
        if air.celsius is None or not _fresh(air, case.now.steady):
            continue
        bend = celsius + slope * seconds / 3600.0 - air.celsius
        best = max(best, (name, bend), key=lambda one: one[1])
    return best


def partner_latched(case: Case, code: str) -> bool:
    """Whether another room's heater has latched and names this room as the one whose sensor it has."""
    name = case.room.name if case.room is not None else None
    for kept in case.memory.heaters.values():
        notes = kept.notes.get(code)
        if notes and notes.get("swapped_with") == name and notes.get("latched"):
            return True
    return False


def _resting(case: Case) -> list[Room]:
    """The other rooms that have had no heat of their own for a while."""
    return [room for room in case.house.rooms if room is not case.room and _rests(case, room)]


def _rests(case: Case, room: Room) -> bool:
    for heater in room.heaters:
        kept = case.memory.heaters[room.key_of(heater)]
        off_since = kept.off_since if kept.off_since is not None else kept.waiting_since  # never on: since the start
        if kept.told_on or off_since is None or case.now.steady - off_since < STILL_SECONDS:
            return False
    return True


def _holds(air: AirMemory, steady: float) -> bool:
    """Whether air is no lower than it was a while ago."""
    before = [celsius for at, celsius in air.trail if at <= steady - LATELY_SECONDS]
    return bool(before) and _fresh(air, steady) and air.celsius is not None and air.celsius >= before[-1]


def _runs_away(case: Case, room: Room) -> bool:
    air = case.memory.rooms[room.name].air
    slope = slope_kelvin_per_hour(air, case.now.steady, SLOPE_SECONDS)
    if slope is None or air.celsius is None or not _fresh(air, case.now.steady):
        return False
    return air.celsius >= room.ceiling_celsius - UNDER_CEILING_KELVIN and slope >= RUNNING_KELVIN_PER_HOUR


def _fresh(air: AirMemory, steady: float) -> bool:
    return air.heard and air.at is not None and steady - air.at <= FRESH_SECONDS
