"""On below the target, off above it, with a differential between.

Rules: on at half the differential under the target, off at half over it, but never over what the
`overshoot` interlock allows; between the two, what was is kept.
"""

from __future__ import annotations

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.saying import cold, warm
from thermostatd.core.results import Demand

HIGHEST_OVER_KELVIN = 0.5


def decide(case: Case) -> Demand:
    """Demand of a room by its air and its differential."""
    half = case.room.differential / 2.0
    on = bool(case.notes.get("on", False))
    if case.celsius <= case.target.celsius - half:
        on = True
    elif case.celsius >= case.target.celsius + min(half, HIGHEST_OVER_KELVIN):
        on = False
    case.notes["on"] = on
    return Demand(on, 1.0 if on else 0.0, cold(case) if on else warm(case))
