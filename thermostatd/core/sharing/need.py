"""How much a heater needs its share: how far its room is below target, how fast it falls, how long it has waited.

Rules: in kelvins, so that all three compare; a wait counts for 2 K an hour, a fall for what half an hour of it
would take; who waited 45 minutes goes before all who have not, the longest first: so nobody starves.
"""

from __future__ import annotations

from thermostatd.core.clock import Now
from thermostatd.core.memory import AirMemory, HeaterMemory
from thermostatd.core.reading import slope_kelvin_per_hour
from thermostatd.core.results import Target
from thermostatd.core.values import Missing, Reading

CODE = "circuit"
FALL_HOURS = 0.5
WAIT_KELVIN_PER_HOUR = 2.0
LONGEST_WAIT_SECONDS = 2700.0
LONGEST_STEP_SECONDS = 600.0
AHEAD_WEIGHT, AHEAD_SECONDS = 0.5, 6 * 3600.0


def need_kelvin(
    air: Reading | Missing, target: Target, trail: AirMemory, waited_seconds: float, now: Now
) -> float:
    """Kelvins below target, with the fall and the wait put in the same measure."""
    waited = WAIT_KELVIN_PER_HOUR * waited_seconds / 3600.0
    if isinstance(air, Missing):
        return waited
    below = max(0.0, target.celsius - air.celsius)
    soon = target.next_at is not None and target.next_at - now.steady <= AHEAD_SECONDS
    if target.next_celsius is not None and soon:  # a preheat is half as urgent as what is missing now
        below = max(below, AHEAD_WEIGHT * (target.next_celsius - air.celsius))
    slope = slope_kelvin_per_hour(trail, now.steady) or 0.0
    return below + FALL_HOURS * max(0.0, -slope) + waited


def waited_seconds(kept: HeaterMemory) -> float:
    """How long a heater has waited for its share."""
    return float(kept.notes.get(CODE, {}).get("waited", 0.0))


def note_wait(kept: HeaterMemory, now: Now, *, waits: bool, runs: bool) -> None:
    """Count a wait; a run ends it, and a time in which nothing is wanted takes it back as slowly as it grew."""
    waited = waited_seconds(kept)
    seconds = min(now.seconds, LONGEST_STEP_SECONDS)
    after = 0.0 if runs else waited + seconds if waits else max(0.0, waited - seconds)
    if after > 0.0:
        kept.notes.setdefault(CODE, {})["waited"] = after
    elif CODE in kept.notes:
        del kept.notes[CODE]
