"""The body as a store of heat: what runs and rests do to its warmth, for each candidate size of the store.

Rules: warmth ^ 1.3 is the output in watts (EN 442: a column radiator gives as its rise over the room to the power
of 1.3), so c·ẇ = P − w^1.3, where c is the store. Close to one level that is ẏ = (P − y)/τ with τ = c/(1.3·w^0.3).
Pure arithmetic; no room, no meter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, exp, log

EXPONENT = 1.3
CANDIDATES = 11
WIDEST = 2.2
SHARES = tuple(exp(log(WIDEST) * (2.0 * n / (CANDIDATES - 1) - 1.0)) for n in range(CANDIDATES))
LONGEST_STEP_SECONDS = 20.0
COLD = 0.05


def warmth_of(watts: float) -> float:
    """The warmth at which the body gives that many watts."""
    return float(max(watts, 0.0) ** (1.0 / EXPONENT))


def watts_of(warmth: float) -> float:
    """What a body of that warmth gives, W."""
    return float(max(warmth, 0.0) ** EXPONENT)


def tau_seconds(store: float, warmth: float) -> float:
    """The time constant of the output close to a warmth, s."""
    return float(store / (EXPONENT * max(warmth, COLD) ** (EXPONENT - 1.0)))


def stores(middle: float) -> list[float]:
    """The candidate stores round a middle one."""
    return [middle * share for share in SHARES]


def later(
    warmth: float, watts: float, seconds: float, store: float, longest_step: float = LONGEST_STEP_SECONDS
) -> float:
    """The warmth after `seconds` at `watts`; a few seconds may also be taken back (negative)."""
    if watts <= 0.0 and seconds > 0.0:
        return _cooled(warmth, seconds, store)
    steps = max(1, ceil(abs(seconds) / longest_step))
    part = seconds / steps / store
    half = 0.5 * part
    for _ in range(steps):  # the busiest line of the program: no calls in it
        middle = warmth + half * (watts - warmth**EXPONENT)
        warmth += part * (watts - middle**EXPONENT) if middle > 0.0 else part * watts
        if warmth < 0.0:
            warmth = 0.0
    return warmth


def _cooled(warmth: float, seconds: float, store: float) -> float:
    """Without power, in closed form."""
    if warmth < COLD:
        return 0.0
    less = EXPONENT - 1.0
    return float((warmth**-less + less * seconds / store) ** (-1.0 / less))


def all_later(warmth: Sequence[float], watts: float, seconds: float, middle: float) -> list[float]:
    """Every candidate's warmth after `seconds` at `watts`."""
    return [
        round(later(one, watts, seconds, middle * share), 3)
        for one, share in zip(warmth, SHARES, strict=True)
    ]
