"""What a run from now would come to, as a share of the warmth at which the cut-out opens.

Rules: with two openings closely known the candidates' weighted mean speaks; with one, the likely candidate that says
most. Where openings lie between reports far apart, the mean speaks, and any likely candidate with a smaller store than
the mean's: such a one would be warmer after a cold start. A larger one would be warmer after hours of pacing only, and
those it has stood. Pure, and cheap enough for every step.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from thermostatd.core.body.brackets import NO_WEIGHT, UNLIKELY_SHARE
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import SHARES, later

STEP_SECONDS = 60.0
WATTS_STEP = 2.0


def ahead(body: BodyMemory, watts: float, seconds: float) -> float:
    """The share of the opening warmth, in a room of 20 °C, that a run of `seconds` from now at `watts` ends at."""
    return _ahead(body, body.warmth, watts, seconds, _alone(body))


def _alone(body: BodyMemory) -> int:
    """How many candidates, from the smallest store on, are heard by themselves if they are likely."""
    if body.wide:
        return int(sum(n * weight for n, weight in enumerate(body.weights)) / sum(body.weights))
    return len(SHARES) if len(body.lessons) == 1 else 0


def _ahead(body: BodyMemory, warmth: Sequence[float], watts: float, seconds: float, alone: int) -> float:
    likely = UNLIKELY_SHARE * max(body.weights)
    least = likely if alone == len(SHARES) else NO_WEIGHT
    store, total, sums, most = body.store_joules or 1.0, 0.0, 0.0, 0.0
    for n, weight in enumerate(body.weights):
        if weight < least:
            continue
        reached = later(warmth[n], watts, seconds, store * SHARES[n], STEP_SECONDS) / body.opens[n]
        total, sums = total + weight, sums + weight * reached
        if n < alone and weight >= likely:
            most = max(most, reached)
    return max(most, sums / total)


def from_cold(body: BodyMemory, watts: float, seconds: float) -> float:
    """The same for a cold body; remembered, since it seldom changes."""
    watts, alone = round(watts / WATTS_STEP) * WATTS_STEP, _alone(body)
    return _from_cold(watts, seconds, body.store_joules or 1.0, alone, tuple(body.weights), tuple(body.opens))


@lru_cache(maxsize=64)
def _from_cold(
    watts: float,
    seconds: float,
    store: float,
    alone: int,
    weights: tuple[float, ...],
    opens: tuple[float, ...],
) -> float:
    body = BodyMemory(store_joules=store, weights=list(weights), opens=list(opens))
    return _ahead(body, [0.0] * len(weights), watts, seconds, alone)
