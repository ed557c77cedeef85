"""Chooses the next switchings among many ways on: three free instants, then the best even cycle.

Rules: a way's cost is ∫(air − wanted)²·w dt + c·Σw(switching), K²·min, with w falling to nothing over the horizon's
last part, so that no way gains by how it ends. Every way is a sum of the same answers to a watt, one a minute, so
a decision takes their inner products with what is off once, and sums them; squares are worked out once a duty.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermostatd.physics.thermal.model import Array
from thermostatd.physics.thermal.responses import Course
from thermostatd.physics.thermal.ripple import DUTIES, Cycles

Minutes = NDArray[np.uint16]
MOST_KEPT = 12
FIRST = np.array([0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22, 27, 33, 40, 50, 62, 78, 98])
SECOND = np.array([0.25, 0.4, 0.55, 0.7, 0.85, 1.0, 1.15, 1.35, 1.6, 2.0, 2.6])
THIRD = np.array([0.6, 0.8, 1.0, 1.25, 1.6])
TAPER = 0.35


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways from on (or off) at one duty: `minutes` (n, k) of their switchings, the last index meaning never.

    `own` and `cross` are squares, `switchings` weighted counts, `begins[t]` the first way that leaves at least t
    minutes as they are; `settled` (n,) the minute from which a way's mean power is the duty's.
    """

    duty: float
    minutes: Minutes
    settled: Minutes
    own: Array
    cross: Array
    switchings: Array


class Search:
    """One model's search. `least_on` and `least_off` in minutes; the course's last sample ends the horizon.

    `steps` are the air's answers (end + 1, n) to a watt from each minute on, the last of them never; `weights` (n,)
    those of the samples, minutes.
    """

    def __init__(self, near: Course, cycles: Cycles, least_on: int, least_off: int) -> None:
        every = float(near.minutes[1] - near.minutes[0])
        self.end = int(near.minutes[-1])
        self._cycles, self._least = cycles, (least_off, least_on)
        self.weights = every * taper(near.minutes, self.end)
        self.steps = np.vstack([near.stairs(tuple(range(self.end))), np.zeros(len(near.minutes))])
        self._weighted = self.steps * self.weights
        self._squares = np.sum(self._weighted * self.steps, axis=1)
        self._ways: OrderedDict[tuple[bool, int], Ways] = OrderedDict()

    def best(
        self, off: Array, on_now: bool, watts: float, hold_watts: float, switch_cost: float, left: float
    ) -> tuple[Ways, int]:
        """The cheapest way: its set, and its row there. `left`: minutes for which nothing may be switched.

        `off` is what the air would be over what is wanted without power; `hold_watts` what holds it in the long run.
        """
        duty = min(max(hold_watts / watts, 0.0), 1.0)
        found = self.ways(on_now, int(np.argmin(np.abs(DUTIES - duty))))
        rest = (duty - found.duty) * watts
        inner = self._weighted @ off
        sums = inner[found.minutes] @ signs(on_now, found.minutes.shape[1])
        if on_now:
            sums += inner[0]
        total = (2.0 * watts) * sums + (watts * watts) * found.own + switch_cost * found.switchings
        total += (2.0 * rest * watts) * found.cross
        total += (2.0 * rest * inner + rest * rest * self._squares)[found.settled]
        if left > 0.0:
            total = np.where(found.minutes[:, 0] >= left - 1e-6, total, np.inf)
        return found, int(np.argmin(total))

    def ways(self, on_now: bool, place: int) -> Ways:
        """The ways at one of the duties, worked out when first asked for."""
        key = (on_now, place)
        if key not in self._ways:
            self._ways[key] = self._made(on_now, place)
            if len(self._ways) > MOST_KEPT:
                self._ways.popitem(last=False)
        self._ways.move_to_end(key)
        return self._ways[key]

    def _made(self, on_now: bool, place: int) -> Ways:
        duty = float(DUTIES[place])
        period = float(self._cycles.period_minutes[place])
        spans = (period * (1.0 - duty), period * duty) if on_now else (period * duty, period * (1.0 - duty))
        minutes = _instants(spans, self._least if on_now else self._least[::-1], self.end)
        turns = signs(on_now, minutes.shape[1])
        air = np.zeros((len(minutes), self.steps.shape[1]))
        if on_now:
            air += self.steps[0]
        for column, sign in zip(minutes.T, turns, strict=True):
            air += sign * self.steps[column]
        settled = minutes[:, 2] if minutes.shape[1] > 2 else minutes[:, -1]
        weighted = air * self.weights
        counts = np.append(taper(np.arange(self.end, dtype=float), self.end), 0.0)
        return Ways(
            duty,
            minutes,
            settled,
            np.sum(weighted * air, axis=1),
            np.sum(weighted * self.steps[settled], axis=1),
            np.sum(counts[minutes], axis=1),
        )

    def air(self, found: Ways, row: int, on_now: bool) -> Array:
        """The air's answer to a watt that goes this way, at the samples."""
        minutes = found.minutes[row]
        total = signs(on_now, len(minutes)) @ self.steps[minutes]
        return np.asarray(total + self.steps[0] if on_now else total)


def taper(minutes: Array, end: int) -> Array:
    """Weights over the horizon: one, then evenly down to nothing at its end."""
    return np.clip((end - minutes) / (TAPER * end), 0.0, 1.0)


def signs(on_now: bool, count: int) -> Array:
    """What each of a way's switchings does to the power: +1 on, -1 off."""
    turns = np.ones(count)
    turns[0 if on_now else 1 :: 2] = -1.0
    return turns


def _instants(spans: tuple[float, float], least: tuple[int, int], end: int) -> Minutes:
    """Switching minutes (n, k): first, second and third tried freely, then the cycle's own spans on and on.

    `spans` are the cycle's after an odd and after an even switching, `least` the minimum times after those.
    """
    first = FIRST[end > FIRST]
    second = np.unique(np.maximum(np.round(spans[0] * SECOND), least[0]))
    third = np.unique(np.maximum(np.round(spans[1] * THIRD), least[1]))
    one, two, three = (grid.ravel() for grid in np.meshgrid(first, second, third, indexing="ij"))
    columns = [one, one + two, one + two + three]
    spans = (max(spans[0], least[0]), max(spans[1], least[1]))
    while columns[-1].min() < end and len(columns) < 40:
        columns.append(columns[-1] + spans[(len(columns) - 1) % 2])
    table = np.vstack([np.stack(columns, axis=1), np.full((1, len(columns)), float(end))])
    return np.minimum(np.round(table), end).astype(np.uint16)
