"""What is counted from step to step for advice and wear: what a room takes, the cold of late, a season's pace.

Rules: cheap, a few sums a step; nothing here decides anything. A room's tally forgets with a time constant of two days,
so that it is about this weather; a season begins on 1 July, or where the house file's season begins.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from thermostatd.core.clock import Now
    from thermostatd.core.house import House
    from thermostatd.core.memory import Memory
    from thermostatd.core.reading import Readings

MEMORY_SECONDS = 2 * 86400.0
LONGEST_STEP_SECONDS = 120.0
COLD_FADES_KELVIN_A_DAY = 1.0
WARMING_SECONDS = 24 * 3600.0  # walls warm up first, and take more than is lost
ENOUGH_SECONDS = WARMING_SECONDS + 24 * 3600.0
LEAST_KELVINS, LEAST_WATTS = 5.0, 40.0
SEASON_BEGINS = (7, 1)


@dataclass
class RoomTally:
    """Of late: seconds that count, mean watts drawn, mean kelvins over outdoors; the coldest outdoor air, °C."""

    seconds: float = 0.0
    watts: float = 0.0
    kelvins: float = 0.0
    coldest: float | None = None


@dataclass
class SeasonTally:
    """When this season began (Unix seconds), when it ends, and each heater's switchings, s on, openings then."""

    since_wall: float = 0.0
    until_wall: float = 0.0
    before: dict[str, tuple[int, float, int]] = field(default_factory=dict)


def tally(house: House, memory: Memory, readings: Readings, now: Now) -> None:
    """Count this step."""
    wall = now.best.timestamp()
    if wall >= memory.season.until_wall and not now.doubted:
        _begin_season(house, memory, now)
    outdoor = getattr(readings.outdoor, "celsius", None)
    seconds = min(now.seconds, LONGEST_STEP_SECONDS)
    if outdoor is None or seconds <= 0.0:
        return
    for room in house.rooms:
        air = getattr(readings.air[room.name], "celsius", None)
        if air is None:
            continue
        kept = memory.rooms[room.name].tally
        watts = sum(memory.heaters[room.key_of(heater)].body.watts for heater in room.heaters)
        kept.seconds += seconds
        fades = seconds / 86400.0 * COLD_FADES_KELVIN_A_DAY
        kept.coldest = outdoor if kept.coldest is None else min(outdoor, kept.coldest + fades)
        if kept.seconds <= WARMING_SECONDS:
            continue
        share = seconds / min(kept.seconds - WARMING_SECONDS, MEMORY_SECONDS)
        kept.watts = round(kept.watts + share * (watts - kept.watts), 7)
        kept.kelvins = round(kept.kelvins + share * (air - outdoor - kept.kelvins), 7)


def loss_watts_per_kelvin(tally: RoomTally) -> float | None:
    """What a room took for each kelvin over outdoors, of late, free heat taken off; None before two days."""
    enough = tally.seconds >= ENOUGH_SECONDS and tally.kelvins >= LEAST_KELVINS and tally.watts >= LEAST_WATTS
    return tally.watts / tally.kelvins if enough else None


def _begin_season(house: House, memory: Memory, now: Now) -> None:
    month, day = SEASON_BEGINS
    if house.house.season is not None:
        month, day = house.house.season.begins
    local = now.best.astimezone(now.zone)
    year = local.year + (1 if (local.month, local.day) >= (month, day) else 0)
    memory.season.until_wall = datetime(year, month, day, tzinfo=now.zone).astimezone(UTC).timestamp()
    memory.season.since_wall = now.best.timestamp()
    memory.season.before = {
        key: (kept.operations, float(round(kept.on_seconds)), kept.facts.trip_count)
        for key, kept in memory.heaters.items()
    }
