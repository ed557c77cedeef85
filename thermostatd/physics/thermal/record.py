"""A room's record on an even grid, as the fit wants it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermostatd.physics.thermal.model import Array


@dataclass(frozen=True, slots=True)
class Record:
    """Even steps of `minutes`: readings °C (NaN where none came), inputs (n, 4) held through each step.

    `watts` is the heaters' full power; `step_kelvin` the sensor's; `first_minute` the local minute of the day
    (0 … 1439) of the first step, where the wall clock is known.
    """

    minutes: int
    celsius: Array
    inputs: Array
    watts: float
    step_kelvin: float
    first_minute: float = 0.0

    def __len__(self) -> int:
        return len(self.celsius)

    @property
    def hours(self) -> float:
        """Its length."""
        return len(self.celsius) * self.minutes / 60.0

    def broken(self, longest_minutes: float = 90.0, settle_minutes: float = 180.0) -> Array:
        """1 where a step is no good for judging: at the start, in a long silence and for a while after."""
        bad = np.zeros(len(self.celsius))
        settle, silent = int(settle_minutes / self.minutes), 0
        bad[:settle] = 1.0
        for index, heard in enumerate(np.isfinite(self.celsius)):
            silent = 0 if heard else silent + 1
            if silent * self.minutes > longest_minutes:
                bad[max(0, index - silent + 1) : index + settle] = 1.0
        return bad
