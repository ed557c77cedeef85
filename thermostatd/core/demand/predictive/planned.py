"""One decision by the model: where the air should be over the coming hours, and which switchings bring it there.

Rules: the air is steered, not the sensor, which lags; after a fall in target the air is let fall; a rise is begun for
when full power from now would no longer come too early, and let go of where that turns out wrong.
"""

from __future__ import annotations

from math import ceil, inf

import numpy as np

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.around import tell_neighbours
from thermostatd.core.demand.predictive.hushed import Power, before_night, last_run_wants, night_wants
from thermostatd.core.demand.predictive.lateness import ARRIVED_KELVIN
from thermostatd.core.demand.predictive.rising import COAST_KELVIN, Rise, peak, rise_of
from thermostatd.core.demand.predictive.telling import tell, told
from thermostatd.core.demand.predictive.tracking import Tracked, at_odds, follow, is_due
from thermostatd.core.demand.saying import cold, warm
from thermostatd.core.memory import Notes
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand
from thermostatd.physics.thermal.model import AIR, Array, Constants, Z, holding_watts
from thermostatd.physics.thermal.plans import Plans, plans_of

SWITCH_COSTS = {"very few": 14.0, "few": 3.4, "some": 0.28, "many": 0.14}
MOST_A_DAY = {"very few": 40.0, "few": 65.0, "some": 115.0, "many": 160.0}
"""Switchings of a day in which half the power is needed: the most that are borne, whatever the heater."""
HIGHEST_OVER_KELVIN, HIGHEST_HUSHED_KELVIN = 0.5, 0.59
LOWEST_UNDER_KELVIN = 0.8
BELOW_KELVIN = 0.3
FALLEN_KELVIN = 0.05
FREE_FALL_KELVIN = 0.1
SHORT_FALL_MINUTES = 10.0
"""A fall that the air makes sooner has no last switching before it: heat is wanted again right after."""


def decide_by_model(case: Case) -> Demand | None:
    """Demand by the model; None while it is at odds with the sensor."""
    notes = case.notes
    if is_due(case):
        thermal = case.model["thermal"] if case.model else {}
        plans = plans_for(case, thermal)
        tracked = follow(case, plans, thermal)
        if not at_odds(notes):
            _decide(case, plans, tracked)
    return None if notes.get("at_odds") or "want" not in notes else _demand(case)


def plans_for(case: Case, thermal: Notes) -> Plans:
    """The plans of this room's model."""
    heaters = case.room.heaters
    least_on = ceil(max(heater.min_on for heater in heaters) / 60.0)
    least_off = ceil(max(heater.min_off for heater in heaters) / 60.0)
    constants = _constants(tuple(sorted(thermal["constants"].items())))
    watts, step, clicks = float(thermal["watts"]), float(thermal["step_kelvin"]), case.room.clicks
    return plans_of(constants, watts, step, least_on, least_off, SWITCH_COSTS[clicks], MOST_A_DAY[clicks])


def _constants(items: tuple[tuple[str, float], ...]) -> Constants:
    return Constants.of(dict(items))


def _demand(case: Case) -> Demand:
    notes = case.notes
    on, share = bool(notes["want"]), float(notes["share"])
    if case.celsius >= _measure(case) + (HIGHEST_HUSHED_KELVIN if case.hush_now else HIGHEST_OVER_KELVIN):
        on = False
    if not on:
        return Demand(False, share, warm(case), told(notes))
    rise, target = notes.get("rise"), case.target
    if rise is not None and case.celsius >= target.celsius - BELOW_KELVIN:
        minutes = max(0.0, (rise["at"] - case.steady) / 60.0)
        why = reason("preheating", target=rise["celsius"], minutes=minutes)
        return Demand(True, share, why, told(notes))
    return Demand(True, share, cold(case), told(notes))


def _measure(case: Case) -> float:
    target = case.target
    if case.notes.get("rise") is not None and target.next_celsius is not None:
        return max(target.celsius, target.next_celsius)
    return target.celsius


def _decide(case: Case, plans: Plans, tracked: Tracked) -> None:
    """Settle what is wanted for the coming minute."""
    notes, target = case.notes, case.target.celsius
    _watch_falls(notes, target, float(tracked.state[AIR]))
    full = case.full_watts or case.watts
    lasts = case.lasting_watts or full + case.base_watts
    rise = rise_of(case, plans, tracked, lasts)
    aim = rise.celsius if rise.begun else target
    hold = float(holding_watts(plans.constants, aim, tracked.state.tolist(), tracked.inputs.tolist(), plans.horizon))
    hold = min(max(hold - case.base_watts, 0.0), full)
    notes["share"] = round(hold / full, 3)
    # the search goes on from its few switchings by what holds now: it must not be shown weather that changes that
    free = tracked.free(plans.near, plans.near_usual, foretold=False) + case.base_watts * plans.near.full
    notes["want"], heat = _wants(case, plans, tracked, rise, aim, Power(full, hold), free)
    tell(case, plans, tracked, rise, lasts, free + full * heat)
    tell_neighbours(case, plans, tracked, lasts)


def _watch_falls(notes: Notes, target: float, air: float) -> None:
    """After a fall in target the air is let fall, until it is there."""
    if notes.get("target") is not None and target < notes["target"] - FALLEN_KELVIN:
        notes["falling"] = True
    if air <= target + FREE_FALL_KELVIN:
        notes["falling"] = False
    notes["target"] = target
    notes.setdefault("falling", False)


def _wants(
    case: Case, plans: Plans, tracked: Tracked, rise: Rise, aim: float, power: Power, free: Array
) -> tuple[bool, Array]:
    """Whether heat is wanted for the coming minute, and what a watt of what is planned does to the near samples."""
    least = plans.least_on if case.was_on else plans.least_off
    since = inf if case.switched is None else (case.steady - case.switched) / 60.0
    soonest = max(0.0, least - since)
    settled = _settled(case, plans, tracked, rise, power, soonest)
    if settled is not None:
        return settled, plans.near.full if settled else np.zeros(len(free))
    wanted, ending = _wanted(case, plans, aim, free), _fall_minutes(case, aim)
    if ending <= plans.ending_minutes and not case.notes["falling"]:
        fall, lower = _fall(plans, tracked, aim), float(case.target.next_celsius or aim)
        wanted = _until_fall(plans, fall, aim, ending, lower)
        if fall[plans.near.minutes <= SHORT_FALL_MINUTES].min() > lower:
            off = free - wanted
            switch, answer = plans.endings.best(
                off, case.was_on, power.full, plans.switch_cost, soonest, ending
            )
            return case.was_on != switch, answer
    off = free - wanted
    found, row = plans.search.best(off, case.was_on, power.full, power.hold, plans.switch_cost, soonest)
    on = case.was_on != (int(found.minutes[row, 0]) == 0)
    return on, plans.search.air(found, row, case.was_on)


def _settled(
    case: Case, plans: Plans, tracked: Tracked, rise: Rise, power: Power, soonest: float
) -> bool | None:
    """What is wanted where no search is needed: a rise on its way, a quiet night, air far too cold."""
    air, target = float(tracked.state[AIR]), case.target.celsius
    if rise.begun and case.last_run:
        return last_run_wants(case, plans, tracked, power, rise.celsius)  # let go of, it could not be begun again
    if rise.begun and rise.power is not None:
        return rise.power
    if case.hush_now:
        return night_wants(case, plans, tracked, power, soonest)
    case.notes.pop("night", None)
    last = before_night(case, plans, tracked, power.full)
    if last is not None:
        return last
    if case.celsius < target - LOWEST_UNDER_KELVIN and air < target - LOWEST_UNDER_KELVIN / 2:
        return True
    return _still_rising(case, plans, tracked, target) or None


def _still_rising(case: Case, plans: Plans, tracked: Tracked, target: float) -> bool:
    """After a rise that came too late: full power until what is in store carries the air to its target."""
    late = case.notes.get("arriving") is not None and tracked.state[AIR] < target - ARRIVED_KELVIN
    return late and peak(plans, tracked) < target + COAST_KELVIN


def _fall_minutes(case: Case, aim: float) -> float:
    """Minutes to the week's next step, where that is a fall; else inf."""
    target = case.target
    falls = target.next_at is not None and target.next_celsius is not None and target.next_celsius < aim
    return (target.next_at - case.steady) / 60.0 if falls and target.next_at is not None else inf


def _wanted(case: Case, plans: Plans, aim: float, free: Array) -> Array:
    """Where the air should be at the near samples."""
    wanted = np.full(len(plans.near.minutes), aim)
    return np.asarray(np.maximum(wanted, free)) if case.notes["falling"] else wanted


def _fall(plans: Plans, tracked: Tracked, aim: float) -> Array:
    """The air as it falls from there without a heater's store."""
    state = tracked.state.copy()
    state[Z], state[AIR] = 0.0, aim
    return plans.near.free(state, tracked.inputs)


def _until_fall(plans: Plans, fall: Array, aim: float, minutes: float, lower: float) -> Array:
    """Where the air should be with a fall so near: from it on, as it falls."""
    wanted = np.full(len(plans.near.minutes), aim)
    after = int(np.searchsorted(plans.near.minutes, minutes))
    wanted[after:] = np.maximum(fall[: len(wanted) - after], lower)
    return wanted
