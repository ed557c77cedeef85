"""What a room's demand is called: warming, warm enough, coasting, cooling down, or why it waits under its target."""

from __future__ import annotations

from thermostatd.core.demand.law import PAIR, Case
from thermostatd.core.reading import slope_kelvin_per_hour
from thermostatd.core.reasons import reason
from thermostatd.core.results import Reason
from thermostatd.core.said import said

COOLING_KELVIN, UNDER_KELVIN = 0.6, 0.35
LONGEST_FORECAST_HOURS = 6.0
SLOWEST_KELVIN_PER_HOUR = 0.15


def cold(case: Case) -> Reason:
    """Heating, with the time it should be warm where the room's own trail tells it."""
    hours = hours_to_target(case)
    eta = "" if hours is None else said(" There in about {span}.", span=_spoken(hours))
    return reason("warming", target=case.target.celsius, eta=eta)


def warm(case: Case) -> Reason:
    """Not heating."""
    if case.target.code == "room-off":
        return reason("room-off", target=case.target.celsius)
    if case.celsius > case.target.celsius + COOLING_KELVIN:
        return reason("cooling-down", target=case.target.celsius)
    slope = slope_kelvin_per_hour(case.air, case.steady)
    if slope is not None and slope > SLOWEST_KELVIN_PER_HOUR:
        return reason("coasting")
    under = case.target.celsius - case.celsius
    return reason("warm-enough") if under <= UNDER_KELVIN else _under(case, under)


def _under(case: Case, under: float) -> Reason:
    """Clearly under its target and not heating: switchings are spared."""
    hush = case.hush_now
    if hush is None:
        return reason("few-switchings", under=under, target=case.target.celsius)
    if hush.left < PAIR:
        return reason("quiet", switches=hush.switches, until=hush.until)
    return reason("kept-for-later", left=hush.left, until=hush.until)


def hours_to_target(case: Case) -> float | None:
    """Hours until the target at the present pace; None where the pace does not tell."""
    slope = slope_kelvin_per_hour(case.air, case.steady)
    gap = case.target.celsius - case.celsius
    if slope is None or slope < SLOWEST_KELVIN_PER_HOUR or gap <= 0.05:
        return None
    hours = gap / slope
    return hours if hours <= LONGEST_FORECAST_HOURS else None


def _spoken(hours: float) -> str:
    minutes = max(5, 5 * round(hours * 12.0))
    if minutes < 90:
        return said("{minutes:.0f} minutes", minutes=float(minutes))
    return said("{hours:.1f} hours", hours=minutes / 60)
