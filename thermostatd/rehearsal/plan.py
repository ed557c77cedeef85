"""Invents what a house file does not say: how large, leaky and heavy each room is, and what stands in it.

Rules: the same file and seed give the same house; a room's heaters can hold 20 °C somewhere between
−10 and −20 °C outdoors, so that cold nights are felt; no figure here is anybody's real house.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from random import Random

from thermostatd.core.house import Heater, House, Room
from thermostatd.physics.heater_kinds import heater_design
from thermostatd.physics.heaters import HeaterBody, HeaterDesign
from thermostatd.physics.rooms import RoomConstants, Weight, room_from_floor

WEIGHTS: tuple[Weight, ...] = ("light", "medium", "medium", "heavy")


@dataclass(frozen=True, slots=True)
class PlaceTraits:
    """A room, or the hall round a spot: constants, sunny window m², and when people are in (hours, W)."""

    constants: RoomConstants
    sun_square_metres: float
    people: tuple[tuple[float, float, float], ...]
    start_celsius: float


def place_traits(room: Room, volts: float, rng: Random, spare: float = 1.0) -> PlaceTraits:
    """An invented room that its heaters can hold at 20 °C down to some cold; `spare` times the power that needs."""
    shed = sum(_holds_watts(heater, volts) for heater in room.heaters) or 500.0
    loss = shed / spare / (20.0 + rng.uniform(10.0, 20.0))
    floor = min(max(loss / rng.uniform(0.9, 1.6), 7.0), 60.0)
    windows, air = loss * rng.uniform(0.22, 0.32), loss * rng.uniform(0.25, 0.38)
    changes = air / (0.34 * floor * 2.5)
    constants = room_from_floor(floor, rng.choice(WEIGHTS), windows, loss - windows - air, changes)
    in_the_morning = (6.5, rng.uniform(7.5, 9.0), rng.uniform(0.0, 120.0))
    in_the_evening = (rng.uniform(16.0, 19.0), rng.uniform(21.5, 23.5), rng.uniform(40.0, 200.0))
    sun = 0.1 * floor * rng.uniform(0.05, 0.6)
    return PlaceTraits(constants, sun, (in_the_morning, in_the_evening), 17.0 + rng.uniform(-1.5, 1.5))


def hall_traits(rng: Random) -> PlaceTraits:
    """The place round a spot: large, leaky, never warm."""
    constants = room_from_floor(rng.uniform(50.0, 80.0), "heavy", 60.0, 120.0, 1.0, 3.5)
    return PlaceTraits(constants, 1.0, (), 7.0 + rng.uniform(-1.0, 1.0))


def _holds_watts(heater: Heater, volts: float) -> float:
    design = heater_design(heater.kind, heater.watts, volts, heater.settings_watts, heater.sustained_watts)
    return min(heater.watts, design.sustained_watts())


def heater_body(heater: Heater, volts: float, rng: Random) -> HeaterBody:
    """The heater of the file, with a body a little unlike any other's, its selector set as written."""
    design: HeaterDesign = heater_design(
        heater.kind,
        heater.watts,
        volts,
        heater.settings_watts,
        heater.sustained_watts,
        capacity=rng.uniform(0.9, 1.1),
        output=rng.uniform(0.96, 1.04),
    )
    return HeaterBody(design, selection=design.nearest_selection(heater.watts, volts))


def doors(house: House, seed: int) -> tuple[tuple[str, str, float], ...]:
    """Which rooms lie side by side, and the exchange between their airs, W/K."""
    rng = Random(f"doors/{seed}")
    names = [room.name for room in house.rooms]
    pairs = list(pairwise(names))
    if len(names) > 3:
        pairs.append((names[-1], names[0]))
    return tuple((one, other, rng.uniform(2.0, 7.0)) for one, other in pairs)
