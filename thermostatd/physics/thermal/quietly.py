"""A quiet night: the few switchings that are left, placed over all the hours that are left.

Rules: a way has as many switchings as are allowed, and each ON keeps its OFF in hand; until the quiet ends the power is
only on or off, after that it is what holds; no OFF is planned for air that is warmer than the most allowed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from thermostatd.physics.thermal.model import Array
from thermostatd.physics.thermal.responses import Course

Indices = NDArray[np.intp]
GRID = (0, 2, 5, 10, 16, 24, 34, 46, 60, 76, 95, 116, 140, 166, 195, 226, 260, 296, 334, 374, 416, 460)
AFTER_MINUTES = 60.0
MOST = 4


@dataclass(frozen=True, slots=True)
class Night:
    """The night as it stands. `off` (n,): the air without power over what is wanted, at the course's samples.

    `switches_left` are counted until the quiet ends; `least_minutes` stand between two switchings; W, K²·min.
    """

    off: Array
    minutes_left: float
    switches_left: int
    on_now: bool
    watts: float
    hold_watts: float
    switch_cost: float
    least_minutes: float
    soonest_minutes: float = 0.0


@lru_cache(maxsize=16)
def _ways(count: int, most: int) -> Indices:
    """All rising choices of up to `most` of `count` instants, filled up with `count`."""
    rows = [
        (*chosen, *[count] * (most - size))
        for size in range(most + 1)
        for chosen in combinations(range(count), size)
    ]
    return np.array(rows, dtype=np.intp).reshape(len(rows), most)


def allowed(on_now: bool, left: int) -> int:
    """Most switchings: every ON must be able to end. Less than none may be left, where some are kept for a rise."""
    return 1 + 2 * max(0, (left - 1) // 2) if on_now else 2 * max(0, left // 2)


def plan(course: Course, night: Night, limit_kelvin: float) -> list[float]:
    """Minutes from now of the switchings that are best."""
    most = min(MOST if not night.on_now else 3, allowed(night.on_now, night.switches_left))
    grid = np.array([minute for minute in GRID if minute < night.minutes_left])
    if most == 0 or not len(grid):
        return []
    rows = _ways(len(grid), most)
    instants = np.append(grid, int(night.minutes_left))  # the last row: the quiet is over
    rows = rows[_spaced(rows, instants, night)]
    steps = course.stairs(tuple(int(minute) for minute in instants))
    weights = _weights(course.minutes, night.minutes_left)
    signs = np.where((np.arange(most) % 2 == 0) == night.on_now, -1.0, 1.0)
    cost = _costs(rows, signs, steps, weights, night)
    too_warm = _too_warm(rows, signs, course, instants, night, limit_kelvin)
    best = int(np.argmin(cost + 1e3 * too_warm))
    return [float(instants[one]) for one in rows[best] if one < len(grid)]


def _spaced(rows: Indices, instants: Array, night: Night) -> NDArray[np.bool_]:
    """Ways that keep the minimum time between their switchings."""
    times = instants[rows].astype(float)
    gaps = np.diff(times, axis=1)
    apart = (gaps >= night.least_minutes) | (rows[:, 1:] == len(instants) - 1)
    return np.asarray(apart.all(axis=1) & (times[:, 0] >= night.soonest_minutes - 1e-6))


def _weights(minutes: Array, left: float) -> Array:
    every = float(minutes[1] - minutes[0])
    return every * np.where(minutes <= left, 1.0, np.clip(1.0 - (minutes - left) / AFTER_MINUTES, 0.0, 1.0))


def _costs(rows: Indices, signs: Array, steps: Array, weights: Array, night: Night) -> Array:
    """∫off² of each way, and its switchings."""
    base = night.off + night.hold_watts * steps[-1]
    if night.on_now:
        base = base + night.watts * (steps[0] - steps[-1])
    # each switching adds or takes the heater's power until the quiet ends
    pulses = night.watts * (steps - steps[-1])
    inner = pulses @ (weights * base)
    gram = (pulses * weights) @ pulses.T
    cost = np.full(len(rows), float(np.sum(weights * base * base)))
    for one, sign in enumerate(signs):
        cost += 2.0 * sign * inner[rows[:, one]] + gram[rows[:, one], rows[:, one]]
        for other in range(one):
            cost += 2.0 * sign * signs[other] * gram[rows[:, one], rows[:, other]]
    return np.asarray(cost + night.switch_cost * np.sum(rows < len(steps) - 1, axis=1))


def _too_warm(
    rows: Indices, signs: Array, course: Course, instants: Array, night: Night, limit_kelvin: float
) -> Array:
    """How far over the limit, K, the air is at the ways' OFFs."""
    at = np.interp(instants, np.append(0.0, course.minutes), np.append(night.off[0], night.off))
    since = instants[:, None].astype(int) - instants[None, :].astype(int)
    heat = night.watts * np.where(since > 0, course.power[np.clip(since, 0, len(course.power) - 1)], 0.0)
    over = np.zeros(len(rows))
    for place, sign in enumerate(signs):
        if sign > 0:
            continue
        here = rows[:, place]
        air = at[here] + (heat[here, 0] if night.on_now else 0.0)
        for before in range(place):
            air = air + signs[before] * heat[here, rows[:, before]]
        real = here < len(instants) - 1
        over = np.maximum(over, np.where(real, air - limit_kelvin, 0.0))
    return over
