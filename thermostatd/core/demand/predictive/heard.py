"""What a room's neighbours told of where their air is heading (around.py), put together.

Rules: it holds for a quarter of an hour; a room that tells nothing is taken to stay as it is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermostatd.core.memory import Notes
from thermostatd.physics.thermal.model import Array

KNOTS = (0.0, 20.0, 40.0, 60.0, 90.0, 120.0, 180.0, 240.0, 360.0)
"""Minutes from when it was worked out."""
LONGEST_SECONDS = 900.0


def mean_changes(told: Sequence[Notes | None], steady: float) -> tuple[float, ...]:
    """By how much the air of all these rooms is expected to change on the mean, K, at KNOTS from now; empty: not."""
    changes = [_changes(one, steady) for one in told if one and 0.0 <= steady - one["at"] <= LONGEST_SECONDS]
    return tuple((np.sum(changes, axis=0) / len(told)).tolist()) if changes else ()


def _changes(kept: Notes, steady: float) -> Array:
    minutes = (steady - kept["at"]) / 60.0 + np.array(KNOTS)
    air = np.interp(minutes, KNOTS, kept["air"])
    return np.asarray(air - air[0])
