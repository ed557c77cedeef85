"""All that is worked out once for a model: its filter, its courses near and far, its cycles and its searches.

Rules: kept by what they were made of, so the same model and settings always give the same plans; nothing here is state.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import inf

import numpy as np

from thermostatd.physics.thermal.endings import Endings
from thermostatd.physics.thermal.filtering import Filter
from thermostatd.physics.thermal.model import (
    AIR,
    FREE,
    NEIGHBOURS,
    OUTDOOR,
    SIZE,
    Array,
    Constants,
    discrete,
    rates,
)
from thermostatd.physics.thermal.responses import Course, course
from thermostatd.physics.thermal.ripple import calm_cycles
from thermostatd.physics.thermal.search import Search

NEAR_EVERY, FAR_EVERY, FAR_COUNT = 4, 10, 60
ENDING_PERIODS, LEAST_ENDING_MINUTES = 1.25, 60.0
"""How long before a fall its last switchings are planned: what few instants can serve well."""


class Plans:
    """One model's. `watts` full power, minimum times in minutes, `switch_cost` in K²·min, or what keeps even the
    busiest duty to `most_a_day` switchings."""

    def __init__(
        self,
        constants: Constants,
        watts: float,
        step_kelvin: float,
        least_on: int,
        least_off: int,
        switch_cost: float,
        most_a_day: float = inf,
    ) -> None:
        self.constants, self.watts = constants, watts
        self.least_on, self.least_off = least_on, least_off
        values = np.array([getattr(constants, name) for name in Constants.__slots__])[:8]
        self.a, self.b = discrete(values)
        self.filter = Filter(self.a, self.b, constants.drift_watts, watts, step_kelvin)
        self.cycles, self.switch_cost = calm_cycles(
            *rates(values), watts, switch_cost, least_on, least_off, most_a_day
        )
        period = float(np.median(self.cycles.period_minutes))
        self.horizon = int(np.clip(4.0 * period, 120.0, 360.0))
        self.near: Course = course(self.a, self.b, NEAR_EVERY, self.horizon // NEAR_EVERY)
        self.near_usual = Usual.of(self.a, self.b, NEAR_EVERY, len(self.near.minutes))
        self.search = Search(self.near, self.cycles, least_on, least_off)
        self.endings = Endings(self.search, least_on, least_off)
        self.ending_minutes = float(
            np.clip(ENDING_PERIODS * period, LEAST_ENDING_MINUTES, 0.6 * self.horizon)
        )

    @cached_property
    def far(self) -> Course:
        """Ten hours, every ten minutes."""
        return course(self.a, self.b, FAR_EVERY, FAR_COUNT)

    @cached_property
    def far_usual(self) -> Usual:
        """What a usual day brings over those hours."""
        return Usual.of(self.a, self.b, FAR_EVERY, FAR_COUNT)


@dataclass(frozen=True, slots=True)
class Usual:
    """The air's answers (n, n), at samples `every` minutes, to what a usual day brings in each stretch between them.

    `gift` to a watt of free heat, `outdoors` to a kelvin outdoors, `neighbours` to one in the rooms around.
    """

    every: int
    gift: Array
    outdoors: Array
    neighbours: Array

    @classmethod
    def of(cls, a: Array, b: Array, every: int, count: int) -> Usual:
        """Those of a minute's matrices."""
        return cls(every, *(stretches(a, b, given, every, count) for given in (FREE, OUTDOOR, NEIGHBOURS)))


def stretches(a: Array, b: Array, given: int, every: int, count: int) -> Array:
    """The air's answers (n, n) to one of an input in each stretch between samples."""
    step, total, row = [0.0], 0.0, np.eye(SIZE)[AIR]
    for _ in range(every * count):
        total += float(row @ b[:, given])
        row = row @ a
        step.append(total)
    answer = np.array(step)[::every]
    lag = np.arange(1, count + 1)[:, None] - np.arange(count)[None, :]
    reached = np.where(lag > 0, answer[np.clip(lag, 0, None)], 0.0)
    return np.asarray(reached - np.where(lag > 1, answer[np.clip(lag - 1, 0, None)], 0.0))


plans_of = lru_cache(maxsize=512)(Plans)
"""The plans of a model and its settings; watts are best given rounded, since each value makes new plans."""
