"""What ordinary switchings tell of whether the heater warms this room, so that no rest is needed to ask.

Rules: the heat a heater would have brought in (its share, late by twenty minutes as an oil-filled body and a sensor
are together) and the air both lose what is slow, twice over half an hour, so that weather, sun and a day's rhythm
count for little; what is left of the air per what is left of the heat, over a forgetting half day, must be a fixed
bound and four of its own standard errors at least. No fitted model of the room takes part. A rest that was not answered
ends what was gathered before it. What was answered once is held against what comes: the odds of "answers as it did" and
"does not answer" are added up from sample to sample, and where they are long against it the heater is doubted.
"""

from __future__ import annotations

from math import exp, inf, sqrt

from thermostatd.core.memory import Notes

SAMPLE_SECONDS, LAG_SECONDS, SLOW_SECONDS, MEMORY_SECONDS = 300.0, 1200.0, 1800.0, 12 * 3600.0
LONGEST_GAP_SECONDS = 900.0
SETTLE_SECONDS = 7200.0
FEWEST_SAMPLES, LEAST_VARIANCE_HOURS = 30.0, 0.008**2
ERRORS = 4.0  # samples of one room hang together: fewer would be too easily had by chance
FRESH_SECONDS = 3600.0
TOGETHER = 8.0  # samples that hang together count as one
DOUBTED, MOST_DOUBT = 7.0, 11.0  # natural logarithms of the odds: asked at every sample, for years
MOST_OF_ONE = 0.5  # no sample says more against it: a door or a cloud is one, too


def watch(notes: Notes, celsius: float, heats: bool, steady: float, seconds: float) -> None:
    """Take one step in: the air, °C, and whether the heater gave heat since the last one."""
    kept = notes.get("cycles")
    if kept is None or "air" not in kept or seconds > LONGEST_GAP_SECONDS:
        before = {name: one for name, one in (kept or {}).items() if name in ("gain", "doubt")}
        kept = notes["cycles"] = _begun(celsius, heats, steady, (kept or {}).get("sums")) | before
    if heats != kept["heats"]:
        kept.update(heats=heats, changed=steady)
    lost, lag = (1.0 - exp(-seconds / one) for one in (SLOW_SECONDS, LAG_SECONDS))
    warm, given, given_slow = kept["heat"]
    warm += lag * (heats - warm)
    given += warm * seconds / 3600.0 - lost * given
    given_slow += lost * (given - given_slow)
    slow, slower = kept["air"]
    slow += lost * (celsius - slow)
    slower += lost * (celsius - slow - slower)
    kept["heat"] = [round(one, 6) for one in (warm, given, given_slow)]
    kept["air"] = [round(slow, 5), round(slower, 5)]
    if steady - kept["at"] >= SAMPLE_SECONDS:
        if steady - kept["begun"] >= SETTLE_SECONDS:
            _hold_against(kept, given - given_slow, celsius - slow - slower)
            _add(kept["sums"], given - given_slow, celsius - slow - slower, steady - kept["at"])
        kept["at"] = steady


def answers(notes: Notes, bound_kelvin_per_hour: float, steady: float) -> bool:
    """Whether what was switched in the last hour was answered by the air: K/h of a heater that is on, at least."""
    kept = notes.get("cycles")
    if not kept or steady - kept.get("changed", -inf) > FRESH_SECONDS:
        return False
    rise, error = slope_of(kept["sums"])
    answered = rise >= bound_kelvin_per_hour and rise >= ERRORS * error and not doubts(notes)
    if answered and kept.get("doubt", 0.0) < 1.0:
        kept["gain"] = [round(rise, 3), round(error * error * kept["sums"][1], 6)]
    return answered


def doubts(notes: Notes) -> bool:
    """Whether the air has ceased to answer as it did."""
    return float(notes.get("cycles", {}).get("doubt", 0.0)) >= DOUBTED


def believe(notes: Notes) -> None:
    """A rest was answered: what spoke against the heater was chance."""
    notes.get("cycles", {}).pop("doubt", None)


def doubt_less(notes: Notes) -> None:
    """A rest was answered, if weakly: half of what spoke against the heater may have been chance."""
    kept = notes.get("cycles", {})
    if "doubt" in kept:
        kept["doubt"] = round(kept["doubt"] / 2.0, 3)


def forget(notes: Notes) -> None:
    """What was seen so far says nothing any more of where the heater is."""
    notes.pop("cycles", None)
    notes.pop("answered_at", None)


def slope_of(sums: list[float]) -> tuple[float, float]:
    """K/h that a heater which is on adds to the air's pace, and the standard error; (0, inf): not known."""
    n, xx, xy, yy = sums
    if n < FEWEST_SAMPLES or xx < LEAST_VARIANCE_HOURS * n:
        return 0.0, inf
    slope = xy / xx
    return slope, sqrt(max(yy - slope * xy, 1e-6) / (n * xx))


def _hold_against(kept: Notes, heat: float, air: float) -> None:
    """Add up the odds against "answers as it did", never under even."""
    if "gain" not in kept:
        return
    rise, variance = kept["gain"]
    speaks_for = rise * heat * (2.0 * air - rise * heat) / (2.0 * variance) / TOGETHER
    doubt = kept.get("doubt", 0.0) - max(-MOST_OF_ONE, speaks_for)
    kept["doubt"] = round(min(MOST_DOUBT, max(0.0, doubt)), 3)


def _begun(celsius: float, heats: bool, steady: float, sums: list[float] | None) -> Notes:
    return {
        "begun": steady,
        "at": steady,
        "heats": heats,
        "heat": [float(heats), 0.0, 0.0],
        "air": [round(celsius, 3), 0.0],
        "sums": sums if sums is not None and len(sums) == 4 else [0.0] * 4,
    }


def _add(sums: list[float], heat: float, air: float, gap: float) -> None:
    keep = exp(-gap / MEMORY_SECONDS)
    new = (1.0, heat * heat, heat * air, air * air)
    sums[:] = [round(keep * old + one, 6) for old, one in zip(sums, new, strict=True)]
