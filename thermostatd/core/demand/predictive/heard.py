"""What a room's neighbours told of where their air is heading (around.py), put together.

Rules: it holds for a quarter of an hour; a room that tells nothing is taken to stay as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from thermostatd.core.memory import Notes
from thermostatd.physics.thermal.model import Array

KNOTS = (0.0, 20.0, 40.0, 60.0, 90.0, 120.0, 180.0, 240.0, 360.0)
"""Minutes from when it was worked out."""
LONGEST_SECONDS = 900.0


def mean_changes(told: Sequence[Notes | None], steady: float) -> tuple[float, ...]:
    """By how much the air of all these rooms is expected to change on the mean, K, at KNOTS from now; empty: not."""
    changes = [
        _changes(steady - one["at"], tuple(one["air"]))
        for one in told
        if one and 0.0 <= steady - one["at"] <= LONGEST_SECONDS
    ]
    return tuple((np.sum(changes, axis=0) / len(told)).tolist()) if changes else ()


@lru_cache(maxsize=64)
def _changes(seconds: float, told: tuple[float, ...]) -> Array:
    """What a room told so many seconds ago, from now on; kept, since each other room asks for it in the same minute."""
    air = np.interp(seconds / 60.0 + np.array(KNOTS), KNOTS, told)
    return np.asarray(air - air[0])
