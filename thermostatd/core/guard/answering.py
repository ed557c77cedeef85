"""What ordinary switchings tell of whether the heater warms this room, so that no rest is needed to ask.

Rules: every five minutes the air's change is held against the heater's share of the last half hour (a lag of twenty
minutes, as an oil-filled body and a sensor have together); the straight line between them, over a forgetting half
day, must rise by a fixed bound and by four of its own standard errors; no fitted model of the room takes part.
An hour of heat of which half is lacking in the air ends the trust, and what was gathered before it.
"""

from __future__ import annotations

from math import exp, inf, sqrt

from thermostatd.core.memory import Notes

SAMPLE_SECONDS, LAG_SECONDS, MEMORY_SECONDS = 300.0, 1200.0, 12 * 3600.0
LONGEST_GAP_SECONDS = 900.0
FEWEST_SAMPLES, LEAST_VARIANCE = 36.0, 0.02
ERRORS = 4.0  # samples of one room hang together: fewer would be too easily had by chance
LATELY_SECONDS, LATELY_WARM, LACKING_SHARE = 2400.0, 0.3, 0.5
FRESH_SECONDS = 3600.0


def watch(notes: Notes, celsius: float, heats: bool, steady: float, seconds: float) -> None:
    """Take one step in: the air, °C, and whether the heater gave heat since the last one."""
    kept = notes.setdefault("cycles", {"warm": 0.0, "at": steady, "celsius": celsius, "sums": [0.0] * 6})
    warm = kept["warm"]
    moved = (float(heats) - warm) * (1.0 - exp(-min(seconds, LAG_SECONDS) / LAG_SECONDS))
    kept["warm"] = round(warm + moved, 6)
    if heats != kept.get("heats"):
        kept.update(heats=heats, changed=steady)
    gap = steady - kept["at"]
    if gap < SAMPLE_SECONDS:
        return
    if gap <= LONGEST_GAP_SECONDS:
        pace = (celsius - kept["celsius"]) * 3600.0 / gap
        _add(kept["sums"], kept["warm"], pace, gap)
        share = 1.0 - exp(-gap / LATELY_SECONDS)
        lately = kept.get("lately", [0.0, 0.0])
        new = (kept["warm"], pace)
        kept["lately"] = [round(old + share * (one - old), 3) for old, one in zip(lately, new, strict=True)]
    kept.update(at=steady, celsius=celsius)


def answers(notes: Notes, bound_kelvin_per_hour: float, steady: float) -> bool:
    """Whether what was switched in the last hour was answered by the air, in K/h from off to on, at least."""
    kept = notes.get("cycles")
    if not kept or steady - kept.get("changed", -inf) > FRESH_SECONDS:
        return False
    rise, error = slope_of(kept["sums"])
    return rise >= bound_kelvin_per_hour and rise >= ERRORS * error


def contradicts(notes: Notes) -> bool:
    """Whether the air lacks, over the last hour or so, half of what so much heat has given it before."""
    kept = notes.get("cycles")
    if not kept or kept.get("lately", [0.0])[0] < LATELY_WARM:
        return False
    rise, error = slope_of(kept["sums"])
    if rise <= 0.0 or rise < ERRORS * error:
        return False
    n, x, y = kept["sums"][:3]
    warm, pace = kept["lately"]
    lacking = y / n + rise * (warm - x / n) - pace
    return bool(lacking > LACKING_SHARE * rise * warm)


def forget(notes: Notes) -> None:
    """What was seen so far says nothing any more of where the heater is."""
    notes.pop("cycles", None)
    notes.pop("answered_at", None)


def slope_of(sums: list[float]) -> tuple[float, float]:
    """K/h by which the air's pace differs between off and on, and its standard error; (0, inf): not known."""
    n, x, y, xx, xy, yy = sums
    if n < FEWEST_SAMPLES:
        return 0.0, inf
    variance = xx / n - (x / n) ** 2
    if variance < LEAST_VARIANCE:
        return 0.0, inf
    slope = (xy / n - x * y / n**2) / variance
    left = max(yy / n - (y / n) ** 2 - slope**2 * variance, 0.0)
    return slope, sqrt(left / (variance * n))


def _add(sums: list[float], warm: float, pace: float, gap: float) -> None:
    keep = exp(-gap / MEMORY_SECONDS)
    new = (1.0, warm, pace, warm * warm, warm * pace, pace * pace)
    sums[:] = [round(keep * old + one, 3) for old, one in zip(sums, new, strict=True)]
