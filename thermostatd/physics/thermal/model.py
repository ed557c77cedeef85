"""A room and its heater in six states: released heat z W, air, mass and sensor °C, disturbances d and e W.

    τh·ż = P − z                                              τd·ḋ = −d,  τe·ė = −e
    Ca·Ṫa = (1−f)·z + d + e + g + Um(Tm−Ta) + ½Uo(To−Ta) + ½Un(Tn−Ta)
    Cm·Ṫm = f·z + Um(Ta−Tm) + ½Uo(To−Tm) + ½Un(Tn−Tm)         τs·ṡ = Ta − s

Inputs: P the heater's power, To outdoors, Tn the neighbours' mean air, g what a usual day brings for free, W.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, fields
from math import expm1, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STATES = ("z", "air", "mass", "sensor", "d", "e")
Z, AIR, MASS, SENSOR, D, LEVEL = range(6)
SIZE = len(STATES)
POWER, OUTDOOR, NEIGHBOURS, FREE = range(4)
STEP_SECONDS = 60.0
DRIFT_HOLD_SECONDS, LEVEL_HOLD_SECONDS = 6 * 3600.0, 10 * 86400.0


@dataclass(frozen=True, slots=True)
class Constants:
    """What a room and its heater are made of. All over zero; `radiant` under one.

    `drift_watts` is how far d walks in a minute, one standard deviation.
    """

    heater_seconds: float
    air_joules_per_kelvin: float
    mass_joules_per_kelvin: float
    to_mass: float
    to_outdoors: float
    to_neighbours: float
    sensor_seconds: float
    radiant: float
    drift_watts: float

    @classmethod
    def of(cls, plain: Mapping[str, Any]) -> Constants:
        """From what `plain` gave. ValueError where it is not whole, finite and over zero."""
        try:
            values = [float(plain[field.name]) for field in fields(cls)]
        except (KeyError, TypeError, ValueError) as fault:
            raise ValueError(f"a room's constants are not whole: {fault}") from fault
        if not all(isfinite(value) and value > 0.0 for value in values) or not values[7] < 1.0:
            raise ValueError("a room's constants must be finite and over zero, and radiant under one")
        return cls(*values)

    def plain(self) -> dict[str, float]:
        """JSON-able, in five significant figures."""
        return {
            field.name: float(f"{value:.5g}")
            for field, value in zip(fields(self), astuple(self), strict=True)
        }

    @property
    def loss_watts_per_kelvin(self) -> float:
        """Steady heat loss per kelvin over outdoors, with neighbours at the outdoor temperature, W/K: (derived)."""
        half = 0.5 * self.to_outdoors
        return half + 1.0 / (1.0 / half + 1.0 / self.to_mass)

    @property
    def settling_seconds(self) -> float:
        """The slowest time constant of air and mass together, s."""
        air, mass = self.air_joules_per_kelvin, self.mass_joules_per_kelvin
        out = 0.5 * (self.to_outdoors + self.to_neighbours)
        rates = np.linalg.eigvals(
            np.array(
                [
                    [-(self.to_mass + out) / air, self.to_mass / air],
                    [self.to_mass / mass, -(self.to_mass + out) / mass],
                ]
            )
        )
        return float(-1.0 / np.max(rates.real))


def rates(values: Array) -> tuple[Array, Array]:
    """Continuous state and input matrices (…, 6, 6) and (…, 6, 4) of rows of constants (…, 8 or more)."""
    th, ca, cm, um, uo, un, ts, f = (values[..., index] for index in range(8))
    out = 0.5 * (uo + un)
    a = np.zeros((*values.shape[:-1], SIZE, SIZE))
    b = np.zeros((*values.shape[:-1], SIZE, 4))
    a[..., Z, Z], b[..., Z, POWER] = -1.0 / th, 1.0 / th
    a[..., AIR, Z] = (1.0 - f) / ca
    a[..., AIR, D] = a[..., AIR, LEVEL] = b[..., AIR, FREE] = 1.0 / ca
    a[..., AIR, AIR], a[..., AIR, MASS] = -(um + out) / ca, um / ca
    b[..., AIR, OUTDOOR], b[..., AIR, NEIGHBOURS] = 0.5 * uo / ca, 0.5 * un / ca
    a[..., MASS, Z] = f / cm
    a[..., MASS, MASS], a[..., MASS, AIR] = -(um + out) / cm, um / cm
    b[..., MASS, OUTDOOR], b[..., MASS, NEIGHBOURS] = 0.5 * uo / cm, 0.5 * un / cm
    a[..., SENSOR, AIR], a[..., SENSOR, SENSOR] = 1.0 / ts, -1.0 / ts
    a[..., D, D], a[..., LEVEL, LEVEL] = -1.0 / DRIFT_HOLD_SECONDS, -1.0 / LEVEL_HOLD_SECONDS
    return a, b


def discrete(values: Array, seconds: float = STEP_SECONDS) -> tuple[Array, Array]:
    """State and input matrices of a step with inputs held, of rows of constants."""
    a, b = rates(np.asarray(values, dtype=np.float64))
    joint = np.zeros((*a.shape[:-2], SIZE + 4, SIZE + 4))
    joint[..., :SIZE, :SIZE], joint[..., :SIZE, SIZE:] = a * seconds, b * seconds
    power = exponential(joint)
    return power[..., :SIZE, :SIZE], power[..., :SIZE, SIZE:]


def exponential(matrix: Array) -> Array:
    """The matrix exponential (…, n, n): scaled until small, a Taylor series, squared back."""
    size = float(np.max(np.sum(np.abs(matrix), axis=-1)))
    halvings = max(0, int(np.ceil(np.log2(size / 0.25)))) if size > 0 else 0
    small = matrix / 2.0**halvings
    total = term = np.broadcast_to(np.eye(matrix.shape[-1]), matrix.shape).copy()
    for order in range(1, 15):
        term = term @ small / order
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return total


def holding_watts(
    constants: Constants,
    target: float,
    state: Sequence[float],
    inputs: Sequence[float],
    minutes: float = 0.0,
) -> float:
    """Released heat, W, that keeps the air where `target` is over so many minutes, with the disturbance as it is.

    The mass goes its way meanwhile, by its mean over that time; with no minutes it is as it is now. Derived.
    """
    c = constants
    half_outdoors, half_neighbours = 0.5 * c.to_outdoors, 0.5 * c.to_neighbours
    around = half_outdoors * inputs[OUTDOOR] + half_neighbours * inputs[NEIGHBOURS]
    total = c.to_mass + half_outdoors + half_neighbours
    stays = _mean_decay(60.0 * minutes * total / c.mass_joules_per_kelvin)
    # where the mass goes without the heater: its own share of the heater's radiation is on the left side below
    mass = stays * state[MASS] + (1.0 - stays) * (c.to_mass * target + around) / total
    leaving = c.to_mass * (target - mass) + (half_outdoors + half_neighbours) * target - around
    heat = leaving - state[D] - state[LEVEL] - inputs[FREE]
    return heat / (1.0 - c.radiant + c.radiant * (1.0 - stays) * c.to_mass / total)


def _mean_decay(times: float) -> float:
    """The mean of exp(−t) from 0 to `times`."""
    return -expm1(-times) / times if times > 0.0 else 1.0
