"""Trips, and latches, when the plug's own temperature is high or rises fast: feel the socket."""

from thermostatd.core.guard.case import Case, good, latched
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "warm-plug"
SAFETY = True
HIGH_CELSIUS = 70.0
RISE_KELVIN, RISE_SECONDS = 20.0, 600.0
RISE_FROM_CELSIUS = 45.0
POINT_SECONDS = 30.0


def judge(case: Case) -> Verdict:
    notes, kept = case.notes(CODE), case.kept
    if kept.warm_celsius is not None and kept.warm_at is not None and kept.warm_at != notes.get("at"):
        _watch(case, kept.warm_celsius, kept.warm_at)
    if not notes.get("latched"):
        return good(CODE)
    return latched(CODE, said("It measured {hot:.0f} °C.", hot=notes["hot"]), celsius=notes["hot"])


def _watch(case: Case, celsius: float, at: float) -> None:
    """Compare with the coolest of the last ten minutes, kept at half-minute points."""
    notes = case.notes(CODE)
    trail = [point for point in notes.get("trail", []) if at - point[0] <= RISE_SECONDS]
    coolest = min((point[1] for point in trail), default=celsius)
    if celsius >= HIGH_CELSIUS or (celsius - coolest >= RISE_KELVIN and celsius >= RISE_FROM_CELSIUS):
        notes.update(latched=True, hot=celsius)
    if not trail or at - trail[-1][0] >= POINT_SECONDS:
        trail.append([at, celsius])
    notes.update(trail=trail, at=at)
