"""The best even cycle: what a kelvin's ripple and a switching cost when a room only ever switches on and off.

The air's ripple of a cycle of period T at duty x is the sum over harmonics n of |2·sin(πnx)/(πn)·G(i·2πn/T)|²/2, with
G the air's answer to power (derived).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermostatd.physics.thermal.model import AIR, POWER, STEP_SECONDS, Array

HARMONICS = 12
PERIODS_MINUTES = np.geomspace(10.0, 960.0, 60)
DUTIES = np.linspace(0.02, 0.98, 33)
COST_STEP, MOST_COST = 1.2, 1e4


@dataclass(frozen=True, slots=True)
class Cycles:
    """For each duty: the least cost per minute, K², and the period, minutes, that has it."""

    duties: Array
    cost: Array
    period_minutes: Array

    def at(self, duty: float) -> tuple[float, float]:
        """Cost per minute and period at a duty; where power is all or nothing, nothing switches."""
        edge = min(duty, 1.0 - duty)
        if edge <= 0.0:
            return 0.0, float(self.period_minutes[0])
        cost = float(np.interp(duty, self.duties, self.cost))
        return cost * min(1.0, edge / DUTIES[0]), float(np.interp(duty, self.duties, self.period_minutes))


def best_cycles(
    rates_a: Array, rates_b: Array, watts: float, switch_cost: float, least_on: float, least_off: float
) -> Cycles:
    """The best cycles of continuous matrices; `switch_cost` in K²·min, minimum times in minutes."""
    harmonic = np.arange(1, HARMONICS + 1)
    speed = 2 * np.pi * harmonic[None, :] / (PERIODS_MINUTES[:, None] * STEP_SECONDS)
    gain = np.abs(transfer(rates_a, rates_b, speed)) ** 2
    weight = (2 * np.sin(np.pi * harmonic * DUTIES[:, None]) / (np.pi * harmonic)) ** 2 / 2
    squares = watts**2 * weight @ gain.T
    cost = squares + 2.0 * switch_cost / PERIODS_MINUTES
    on, off = DUTIES[:, None] * PERIODS_MINUTES, (1 - DUTIES[:, None]) * PERIODS_MINUTES
    cost = np.where((on >= least_on) & (off >= least_off), cost, np.inf)
    best = np.argmin(cost, axis=1)
    return Cycles(DUTIES, cost[np.arange(len(DUTIES)), best], PERIODS_MINUTES[best])


def calm_cycles(
    rates_a: Array,
    rates_b: Array,
    watts: float,
    switch_cost: float,
    least_on: float,
    least_off: float,
    most_a_day: float,
) -> tuple[Cycles, float]:
    """The best cycles, and the least cost of a switching, K²·min, not under `switch_cost`, at which no duty switches
    oftener than `most_a_day`: what a kelvin is worth in a slow heater's room would wear out a quick one's contact."""
    while True:
        cycles = best_cycles(rates_a, rates_b, watts, switch_cost, least_on, least_off)
        if 2880.0 / cycles.period_minutes.min() <= most_a_day or switch_cost >= MOST_COST:
            return cycles, switch_cost
        switch_cost *= COST_STEP


def transfer(rates_a: Array, rates_b: Array, radians_per_second: Array) -> Array:
    """The air's complex answer to a watt at each angular speed."""
    values, vectors = np.linalg.eig(rates_a)
    out = vectors[AIR]
    into = np.linalg.solve(vectors, rates_b[:, POWER].astype(complex))
    s = 1j * radians_per_second
    return np.asarray(np.sum(out * into / (s[..., None] - values), axis=-1))
