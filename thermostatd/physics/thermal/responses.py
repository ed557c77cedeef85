"""What a model answers to each way of switching, worked out once a model: a decision is then a few sums.

Rules: everything is linear and power counts per watt; the air is asked for at even samples of the horizon.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermostatd.physics.thermal.model import AIR, POWER, SIZE, Array


@dataclass(frozen=True, slots=True)
class Course:
    """One output at even samples: `minutes` (n,), what it owes to the state (n, 6) and to inputs held on (n, 4).

    `power` is the answer to a watt from now on, for every single minute from 0 to the last sample.
    """

    minutes: Array
    state: Array
    held: Array
    power: Array

    def free(self, state: Array, inputs: Array) -> Array:
        """The course from `state` with the inputs held, and no power."""
        rest = np.array(inputs)
        rest[POWER] = 0.0
        return np.asarray(self.state @ state + self.held @ rest)

    def stairs(self, instants: tuple[int, ...]) -> Array:
        """The answers (m, n) to a watt from each of these minutes on."""
        since = self.minutes[None, :].astype(int) - np.array(instants)[:, None]
        return np.asarray(np.where(since > 0, self.power[np.clip(since, 0, None)], 0.0))

    @property
    def full(self) -> Array:
        """The answer to a watt from now on, at the samples."""
        return np.asarray(self.power[self.minutes.astype(int)])


def course(a: Array, b: Array, every: int, count: int, output: int = AIR) -> Course:
    """The course of one output of a minute's matrices, over `count` samples `every` minutes."""
    row = np.zeros(SIZE)
    row[output] = 1.0
    total = np.zeros(4)
    states, held, power = [], [], [0.0]
    for minute in range(1, every * count + 1):
        total = total + row @ b
        row = row @ a
        power.append(float(total[POWER]))
        if minute % every == 0:
            states.append(row)
            held.append(total)
    return Course(every * np.arange(1.0, count + 1), np.array(states), np.array(held), np.array(power))
