"""How fast the outdoor air moves beside what a usual day does: a change in the weather goes on for some hours.

Rules: from a quick and a slow mean of the air as felt, less the usual day's; it fades over hours, and is never more
than weather does; none where the air is not felt, and anew after an hour's gap.
"""

from __future__ import annotations

import numpy as np

from thermostatd.core.memory import Notes
from thermostatd.physics.thermal.model import Array

SLOW_HOURS, QUICK_HOURS = 2.5, 0.5
FADES_HOURS = 3.0
MOST_KELVIN_AN_HOUR = 3.0
LONGEST_GAP_SECONDS = 3600.0


def trend_of(notes: Notes, felt_celsius: float | None, usual_kelvin: float, seconds: float) -> float:
    """The trend, K/h, after so many seconds more; `usual_kelvin` is what a usual day has over its mean now."""
    if felt_celsius is None:
        notes.pop("weather", None)
        return 0.0
    over = felt_celsius - usual_kelvin
    kept = notes.get("weather")
    if kept is None or seconds > LONGEST_GAP_SECONDS:
        kept = [over, over]
    hours = seconds / 3600.0
    slow, quick = (mean + (over - mean) * min(1.0, hours / span)
                   for mean, span in zip(kept, (SLOW_HOURS, QUICK_HOURS), strict=True))  # fmt: skip
    notes["weather"] = [round(slow, 4), round(quick, 4)]
    # each lags behind an even slope by its own span
    trend = float(quick - slow) / (SLOW_HOURS - QUICK_HOURS)
    return max(-MOST_KELVIN_AN_HOUR, min(MOST_KELVIN_AN_HOUR, trend))


def coming(trend: float, minutes: Array) -> Array:
    """What it makes of the outdoor air so many minutes on, K."""
    return np.asarray(trend * FADES_HOURS * -np.expm1(-minutes / (60.0 * FADES_HOURS)))
