"""Where a room's air is expected to be in the coming hours, told to its neighbours.

Rules: expected is what its target asks for, no colder than it can fall and no warmer than full power brings it; before
a rise it climbs evenly to arrive with it; after a fall it falls by itself. Told at a few knots, kept in the room's
notes as plain numbers, worked out anew every five minutes.
"""

from __future__ import annotations

import numpy as np

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.heard import KNOTS
from thermostatd.core.demand.predictive.lateness import ARRIVED_KELVIN
from thermostatd.core.demand.predictive.rising import (
    EARLY_MINUTES,
    LEAST_RISE_KELVIN,
    careful_minutes,
    full_power,
    minutes_to,
    vain_lead,
)
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.physics.thermal.model import AIR, Array, Z
from thermostatd.physics.thermal.plans import FAR_EVERY, Plans

AGAIN_SECONDS = 300.0


def tell_neighbours(case: Case, plans: Plans, tracked: Tracked, full: float) -> None:
    """Note the expected air at the knots; `full` is the power, W, that lasts."""
    kept = case.notes.get("ahead")
    if kept is not None and 0.0 <= case.steady - kept["at"] < AGAIN_SECONDS:
        return
    course = _expected(case, plans, tracked, full)
    air = np.interp(KNOTS, (0.0, *plans.far.minutes), (float(tracked.state[AIR]), *course))
    case.notes["ahead"] = {"at": case.steady, "air": [round(float(one), 2) for one in air]}


def _expected(case: Case, plans: Plans, tracked: Tracked, full: float) -> Array:
    """The air at the far samples."""
    minutes, target = plans.far.minutes, case.target
    free = tracked.free(plans.far, plans.far_usual)
    most = full_power(plans.far, plans.far_usual, tracked, full)
    wanted = np.full(len(minutes), target.celsius)
    if target.next_at is not None and target.next_celsius is not None:
        after, then = (target.next_at - case.steady) / 60.0, target.next_celsius
        if then >= target.celsius + LEAST_RISE_KELVIN:
            wanted = np.maximum(wanted, _ramp(case, plans, tracked, after, then, full))
        elif then < target.celsius:
            wanted = _falls(plans, tracked, wanted, after, then)
    return np.asarray(np.minimum(np.maximum(wanted, free), np.maximum(most, free)))


def _ramp(case: Case, plans: Plans, tracked: Tracked, after: float, celsius: float, full: float) -> Array:
    """An even climb that comes to its end with the rise, so many minutes from now, begun as early as rises are."""
    wish, air = celsius - ARRIVED_KELVIN, float(tracked.state[AIR])
    arrival, vain = minutes_to(plans, tracked, wish, full)
    if vain:
        lead = vain_lead(case, plans, tracked, wish, full)
    elif case.notes.get("rise"):
        lead = max(after, arrival)
    else:
        careful = careful_minutes(plans, tracked, wish, full, arrival, case.notes.get("bias", 0.0))
        lead = arrival + careful + EARLY_MINUTES
    pace = max(wish - air, 0.0) / max(lead, 1.0)
    return np.minimum(celsius, wish + pace * (plans.far.minutes - after))


def _falls(plans: Plans, tracked: Tracked, wanted: Array, after: float, lower: float) -> Array:
    """What is wanted until a fall, and the air as it falls from there without a heater's store."""
    state = tracked.state.copy()
    state[Z], state[AIR] = 0.0, wanted[0]
    fall = np.maximum(plans.far.free(state, tracked.inputs), lower)
    begins = min(len(wanted), max(0, int(after // FAR_EVERY)))
    return np.concatenate([wanted[:begins], fall[: len(wanted) - begins]])
