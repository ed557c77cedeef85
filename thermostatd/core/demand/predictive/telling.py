"""What the model knows and people may be told: where the air is heading, when it is warm, and what cannot be.

Rules: worked out anew when what is wanted changes, else every three minutes (it is a third of a decision's cost), and
kept in the room's notes as plain numbers; a spread grows as the forecasts were off in the record that the model was
fitted to.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, inf

import numpy as np

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.lateness import ARRIVED_KELVIN
from thermostatd.core.demand.predictive.rising import Rise, full_power, minutes_to
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.core.memory import Notes
from thermostatd.core.results import Outlook
from thermostatd.physics.thermal.fitting import AHEAD_MINUTES
from thermostatd.physics.thermal.model import AIR, FREE, LEVEL, NEIGHBOURS, Array, D
from thermostatd.physics.thermal.plans import FAR_EVERY, NEAR_EVERY, Plans

POINTS, LONGEST_MINUTES = 8, 180
LEAST_REACH_KELVIN = 0.3
TOLD_SECONDS = 175.0
USUAL_RMS_KELVIN = (0.1, 0.15, 0.25, 0.5)


def tell(case: Case, plans: Plans, tracked: Tracked, rise: Rise, full: float, course: Array) -> None:
    """Note what is to come: `course` is the air at the near samples under what was decided."""
    target = case.target
    wish, by = (rise.celsius, target.next_at) if rise.begun else (target.celsius, None)
    decided = [bool(case.notes["want"]), wish, by]
    kept = case.notes.get("outlook")
    if kept is not None and kept.get("decided") == decided and 0.0 <= case.steady - kept["at"] < TOLD_SECONDS:
        return
    air = float(tracked.state[AIR])
    warm_at = None
    if air < wish - ARRIVED_KELVIN:
        minutes, _ = minutes_to(plans, tracked, wish - ARRIVED_KELVIN, full)
        warm_at = None if minutes == inf else round(case.steady + 60.0 * minutes)
    case.notes["outlook"] = {
        "at": case.steady,
        "decided": decided,
        "course": _points(case, course),
        "warm_at": warm_at,
        "wanted": wish,
        "by": by,
        "reach": _reach(case, plans, tracked, wish, by, full),
        "limit": round(limit_outdoor(plans, tracked, wish, full), 1),
    }


def told(notes: Notes) -> Outlook | None:
    """The outlook of the last decision."""
    kept = notes.get("outlook")
    if kept is None:
        return None
    course = tuple((float(at), float(celsius), float(spread)) for at, celsius, spread in kept["course"])
    return Outlook(course, kept["warm_at"], kept["wanted"], kept["by"], kept["reach"], kept["limit"])


def limit_outdoor(plans: Plans, tracked: Tracked, celsius: float, full: float) -> float:
    """The outdoor air, °C, under which full power cannot hold the air in the long run (steady balance, derived)."""
    c, inputs = plans.constants, tracked.inputs
    out = 0.5 * (c.to_outdoors + c.to_neighbours)
    through = c.to_mass / (c.to_mass + out)  # what of the mass's gains comes to the air's balance
    disturbance = tracked.state[D] + tracked.state[LEVEL]
    gains = (1.0 - c.radiant + c.radiant * through) * full + disturbance + inputs[FREE]
    around = 0.5 * c.to_neighbours * (1.0 + through) * (inputs[NEIGHBOURS] - celsius)
    return float(celsius - (gains + around) / (0.5 * c.to_outdoors * (1.0 + through)))


def _points(case: Case, course: Array) -> list[list[float]]:
    model = case.model["thermal"] if case.model else {}
    spreads = _spreads(tuple(model.get("rms_kelvin", ())) or USUAL_RMS_KELVIN, len(course))
    return [
        [case.steady + 60.0 * NEAR_EVERY * (place + 1), round(float(course[place]), 3), spread]
        for place, spread in spreads
    ]


@lru_cache(maxsize=256)
def _spreads(rms: tuple[float, ...], length: int) -> list[tuple[int, float]]:
    """The samples of a course that are told, and how far off the forecast is by then, K."""
    count = min(length, LONGEST_MINUTES // NEAR_EVERY)
    places = np.unique(np.linspace(0, count - 1, POINTS).round().astype(int))
    minutes = NEAR_EVERY * (places + 1.0)
    spreads = np.interp(minutes, AHEAD_MINUTES[: len(rms)], rms[: len(AHEAD_MINUTES)])
    return [(int(place), round(float(spread), 3)) for place, spread in zip(places, spreads, strict=True)]


def _reach(
    case: Case, plans: Plans, tracked: Tracked, wish: float, by: float | None, full: float
) -> float | None:
    """What full power can do by then, or at all, °C; None where that is enough."""
    if by is None and tracked.state[AIR] >= wish - LEAST_REACH_KELVIN:
        return None
    course = full_power(plans.far, plans.far_usual, tracked, full)
    samples = len(course) if by is None else max(1, ceil((by - case.steady) / 60.0 / FAR_EVERY))
    best = max(float(tracked.state[AIR]), float(np.max(course[:samples])))
    return None if best >= wish - LEAST_REACH_KELVIN else round(best, 2)
