"""Quiet hours: their few switchings are planned over the whole night, or over so much of it as four of them are due
for where there are more, and made when their time has come.

Rules: planned anew every five minutes and whenever something is not as planned; the last run before the quiet ends with
it, a little over the target, so that the room goes into the night with heat in store; every ON keeps its OFF; a rise
that is to be heated for before the quiet is over keeps one ON of them, and where that is the last, its OFF comes when
it leaves the room nearest to what is wanted then.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from thermostatd.core.demand.law import PAIR, Case
from thermostatd.core.demand.predictive.lateness import ARRIVED_KELVIN
from thermostatd.core.demand.predictive.rising import LEAST_RISE_KELVIN, minutes_to, vain_lead
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.physics.thermal.model import AIR, Array
from thermostatd.physics.thermal.plans import Plans
from thermostatd.physics.thermal.quietly import MOST, Night, plan

AGAIN_SECONDS = 300.0
LIMIT_KELVIN = 0.7
BEFORE_KELVIN, ENTER_KELVIN = 0.6, 0.2
LAST_MINUTES = 1.5


@dataclass(frozen=True, slots=True)
class Power:
    """What the night asks for in one room: full watts, and what would hold it in the long run."""

    full: float
    hold: float


def before_night(case: Case, plans: Plans, tracked: Tracked, full: float) -> bool | None:
    """What is wanted just before quiet hours begin: a last run that ends with them, on top; None: nothing special."""
    hush, target = case.hush, case.target
    if hush is None or hush.begins <= case.steady:
        return None
    minutes = (hush.begins - case.steady) / 60.0
    falls = (
        target.next_at is not None
        and target.next_celsius is not None
        and target.next_celsius < target.celsius
    )
    if (falls and target.next_at is not None and target.next_at < hush.ends) or case.notes["falling"]:
        return None
    if minutes <= LAST_MINUTES:
        return case.was_on and bool(tracked.state[AIR] < target.celsius + ENTER_KELVIN)
    if (
        case.notes.get("topping")
        or minutes_to(plans, tracked, target.celsius + BEFORE_KELVIN, full)[0] >= minutes - 1.0
    ):
        case.notes["topping"] = True
        return True
    return None


def last_run_wants(case: Case, plans: Plans, tracked: Tracked, power: Power, celsius: float) -> bool:
    """Whether the last run of a quiet night, begun for a rise, goes on: once the air is warm enough it ends where one
    OFF leaves it nearest to the rise's temperature until the quiet is over."""
    if tracked.state[AIR] < celsius - ARRIVED_KELVIN:
        return True
    hush, at = case.hush, case.target.next_at
    assert hush is not None
    assert at is not None
    off = tracked.free(plans.far, plans.far_usual) - celsius
    ends = (max(hush.ends, at) - case.steady) / 60.0
    least = float(max(plans.least_on, plans.least_off))
    night = Night(off, ends, 1, True, power.full, power.hold, plans.switch_cost, least)
    times = plan(plans.far, night, inf)  # air that is too warm ends it all the more
    return not times or times[0] > 0.5


def night_wants(case: Case, plans: Plans, tracked: Tracked, power: Power, soonest: float) -> bool:
    """Whether heat is wanted for the coming minute of a quiet night."""
    case.notes.pop("topping", None)
    times = _planned(case, plans, tracked, power, soonest)
    due = bool(times) and times[0] <= case.steady + 30.0
    return case.was_on != due


def _planned(case: Case, plans: Plans, tracked: Tracked, power: Power, soonest: float) -> list[float]:
    """Steady seconds of the switchings to come."""
    notes, hush = case.notes, case.hush
    assert hush is not None
    kept = notes.get("night")
    key = [case.was_on, hush.left, round(case.target.celsius, 2)]
    if kept is not None and kept["for"] == key and case.steady - kept["made"] < AGAIN_SECONDS:
        return list(kept["times"])
    left = hush.left - _kept_for_rise(case, plans, tracked, power.full)
    # two runs at once are planned: where there are more, they are those of the next hours, not of all the night
    share = min(1.0, MOST / max(left, 1))
    night = Night(
        _off(case, plans, tracked),
        share * (hush.ends - case.steady) / 60.0,
        left,
        case.was_on,
        power.full,
        power.hold,
        plans.switch_cost,
        float(max(plans.least_on, plans.least_off)),
        soonest,
    )
    times = [case.steady + 60.0 * minute for minute in plan(plans.far, night, LIMIT_KELVIN)]
    notes["night"] = {"for": key, "made": case.steady, "times": times}
    return times


def _kept_for_rise(case: Case, plans: Plans, tracked: Tracked, full: float) -> int:
    """Switchings kept for a rise that has to be heated for before the quiet is over."""
    target, hush = case.target, case.hush
    if target.next_celsius is None or target.next_at is None or hush is None:
        return 0
    if target.next_celsius < target.celsius + LEAST_RISE_KELVIN:
        return 0
    wish = target.next_celsius - ARRIVED_KELVIN
    arrival, vain = minutes_to(plans, tracked, wish, full)
    lead = vain_lead(case, plans, tracked, wish, full) if vain else arrival
    return PAIR if target.next_at - 60.0 * lead < hush.ends else 0


def _off(case: Case, plans: Plans, tracked: Tracked) -> Array:
    """The air without power over what is wanted, at the far samples."""
    far, target = plans.far, case.target
    free = tracked.free(far, plans.far_usual)
    wanted = np.full(len(free), target.celsius)
    if target.next_at is not None and target.next_celsius is not None:
        after = (target.next_at - case.steady) / 60.0
        wanted = np.where(far.minutes > after, target.next_celsius, wanted)
    if case.notes["falling"]:
        wanted = np.maximum(wanted, free)
    return np.asarray(free - wanted)
