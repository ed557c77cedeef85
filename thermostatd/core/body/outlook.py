"""What a run from now would come to, as a share of the warmth at which the cut-out opens.

Rules: with two openings known the candidates' weighted mean speaks, with one the likely candidate that says most; a
candidate of no weight is not asked. Pure, and cheap enough for every step.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from thermostatd.core.body.lessons import UNLIKELY_SHARE
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import SHARES, later

NO_WEIGHT = 0.004
STEP_SECONDS = 60.0
WATTS_STEP = 2.0


def ahead(body: BodyMemory, watts: float, seconds: float) -> float:
    """The share of the opening warmth, in a room of 20 °C, that a run of `seconds` from now at `watts` ends at."""
    return _ahead(body, body.warmth, watts, seconds, len(body.lessons) == 1)


def _ahead(body: BodyMemory, warmth: Sequence[float], watts: float, seconds: float, worst: bool) -> float:
    least = UNLIKELY_SHARE * max(body.weights) if worst else NO_WEIGHT
    store, total, sums, most = body.store_joules or 1.0, 0.0, 0.0, 0.0
    for share, weight, opens, one in zip(SHARES, body.weights, body.opens, warmth, strict=True):
        if weight < least:
            continue
        reached = later(one, watts, seconds, store * share, STEP_SECONDS) / opens
        total, sums, most = total + weight, sums + weight * reached, max(most, reached)
    return most if worst else sums / total


def from_cold(body: BodyMemory, watts: float, seconds: float) -> float:
    """The same for a cold body; remembered, since it seldom changes."""
    watts, worst = round(watts / WATTS_STEP) * WATTS_STEP, len(body.lessons) == 1
    return _from_cold(watts, seconds, body.store_joules or 1.0, worst, tuple(body.weights), tuple(body.opens))


@lru_cache(maxsize=64)
def _from_cold(
    watts: float,
    seconds: float,
    store: float,
    worst: bool,
    weights: tuple[float, ...],
    opens: tuple[float, ...],
) -> float:
    body = BodyMemory(store_joules=store, weights=list(weights), opens=list(opens))
    return _ahead(body, [0.0] * len(weights), watts, seconds, worst)
