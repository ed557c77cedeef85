"""Chooses the last switchings before a fall in target, after which the heater stays off.

Rules: up to four instants before the fall, all tried, and nothing after it; costs as in search.py. The even cycle
that ends every way there would go on heating after the fall, so the search would rather end early, on a heap of heat.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise
from math import ceil

import numpy as np
from numpy.typing import NDArray

from thermostatd.physics.thermal.model import Array
from thermostatd.physics.thermal.search import Search, signs

Minutes = NDArray[np.intp]
NEVER = -1
FINE, COARSE = 16, 8
"""Parts that the time before a fall is cut into, for ways of up to three switchings and of four."""


class Endings:
    """Those of a model's search. `least_on` and `least_off` in minutes."""

    def __init__(self, search: Search, least_on: int, least_off: int) -> None:
        self._search, self._least = search, (least_on, least_off)

    def best(
        self, off: Array, on_now: bool, watts: float, switch_cost: float, left: float, ahead: float
    ) -> tuple[bool, Array]:
        """Whether to switch in the coming minute; and the air's answer to a watt by the cheapest way.

        `off` is what the air would be over what is wanted without power, K; nothing may be switched for `left`
        minutes; the fall is `ahead`, minutes. A run that may not be ended by then goes on until it may.
        """
        steps, weights = self._search.steps, self._search.weights
        minutes = ways(on_now, min(max(round(ahead), ceil(left)), self._search.end - 1), *self._least)
        air = np.einsum("k,nks->ns", signs(on_now, minutes.shape[1]), steps[minutes])
        if on_now:
            air += steps[0]
        clicks = np.sum(minutes != NEVER, axis=1)
        cost = (off + watts * air) ** 2 @ weights + switch_cost * clicks
        now = minutes[:, 0] != NEVER
        row = int(np.argmin(np.where(now & (minutes[:, 0] < left - 1e-6), np.inf, cost)))
        return bool(minutes[row, 0] == 0), air[row]


@lru_cache(maxsize=256)
def ways(on_now: bool, ahead: int, least_on: int, least_off: int) -> Minutes:
    """Switching minutes (n, 3 or 4) of the ways that end with the heater off by then, or NEVER."""
    least = (least_off, least_on) if on_now else (least_on, least_off)
    counts = (1, 3) if on_now else (0, 2, 4)
    table = [
        (*one, *[NEVER] * (counts[-1] - len(one)))
        for count in counts
        for one in combinations(_instants(ahead, COARSE if count == 4 else FINE), count)
        if all(after - before >= least[place % 2] for place, (before, after) in enumerate(pairwise(one)))
    ]
    return np.array(table, dtype=np.intp).reshape(len(table), counts[-1])


def _instants(ahead: int, parts: int) -> list[int]:
    return sorted({round(part * ahead / parts) for part in range(parts + 1)})
