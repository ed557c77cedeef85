"""When to begin to heat for a coming rise, and whether to go on.

Rules: begun when full power from now would be warm no earlier than three minutes before the rise, and sooner by a
share of the way or by what forecasts usually miss, since heat can be let go of but not hurried; of the sun and people
that a usual day brings on the way only a third is counted on, for they may not come. Never longer ahead than six
hours, or ten where everyone is out until then. Past arrivals move that share, but for those of rises that something
else kept from heating. It is let go of with much time to spare, but not where the heater's shortest rest would make
it late by more than it is early; and once the air falls under what is wanted now, that is held until the rise is due
again, but in quiet hours, whose few runs are the rise's. A rise that cannot be met is begun an hour and a half ahead,
since more would cost much and still be late; one that six hours come near to, five and a half; ten where everyone is
out. In quiet hours, whose runs are few, it is begun with less care, once it has been due for some minutes: near what
a heater can do, a hundredth of a kelvin makes hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.lateness import ARRIVED_KELVIN, learn
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.physics.thermal.model import AIR, Array
from thermostatd.physics.thermal.plans import FAR_EVERY, NEAR_EVERY, Plans, Usual
from thermostatd.physics.thermal.responses import Course

LONGEST_LEAD_MINUTES, LONGEST_OUT_MINUTES = 360.0, 600.0
VAIN_LEAD_MINUTES, VAIN_MINUTES = 90.0, 40.0
NEARLY_LEAD_MINUTES, NEARLY_KELVIN = 330.0, 0.7
DOUBT, MENDED_MINUTES = 3.0, 40.0  # what is nearer is mended on the way
MOST_CAREFUL_SHARE, MOST_CAREFUL_MINUTES = 0.9, 20.0
EARLY_MINUTES, EARLY_SHARE, SURE_MINUTES = 3.0, 0.35, 10.0
UNKNOWN_SHARE = 0.45  # where the fit did not say how far forecasts miss
RELEASE_MINUTES, FAR_RELEASE_MINUTES, FAR_RELEASE_SHARE = 5.0, 14.0, 0.1
LATE_FOR_EARLY = 0.7  # minutes late that are taken for one early
HUSHED_SHARE = 0.2  # of that care, in quiet hours: what is let go of and begun again spends a run of their few
HUSHED_SHORT_KELVIN, HUSHED_SURE_MINUTES = 0.05, 5
"""In quiet hours: how far short a rise may come that would be begun hours sooner, and for how long it must be due."""
APPROACH_MINUTES, COAST_KELVIN = 25.0, -0.06  # a body holds more than its model knows of
LEAST_RISE_KELVIN = 0.3
LEFT_UNDER_KELVIN = 0.1  # what is wanted now: there a rise that was let go of is forgotten, and the room is held


@dataclass(frozen=True, slots=True)
class Rise:
    """A coming rise. `power`: what it asks for now; None leaves it to the search, which then aims at `celsius`."""

    begun: bool = False
    celsius: float = 0.0
    power: bool | None = None


def rise_of(case: Case, plans: Plans, tracked: Tracked, full: float) -> Rise:
    """What the next rise asks for now, if there is one."""
    learn(case, tracked)
    target, notes = case.target, case.notes
    air = float(tracked.state[AIR])
    lead = inf if target.next_at is None else (target.next_at - case.steady) / 60.0
    higher = target.next_celsius is not None and target.next_celsius >= target.celsius + LEAST_RISE_KELVIN
    if target.next_celsius is None or not higher or not 0.0 < lead <= longest_lead(case):
        notes["rise"] = None
        return Rise()
    hushed = case.hush_now is not None
    wish = target.next_celsius - ARRIVED_KELVIN - (HUSHED_SHORT_KELVIN if hushed else 0.0)
    arrival, vain = minutes_to(plans, tracked, wish, full)
    vain = vain or arrival > longest_lead(case) + VAIN_MINUTES
    careful = careful_minutes(plans, tracked, wish, full, arrival, notes.get("bias", 0.0))
    if hushed:
        careful *= HUSHED_SHARE
    slack = lead - EARLY_MINUTES - careful - arrival
    notes["due"] = notes.get("due", 0) + 1 if slack <= 0.0 else 0
    waits = notes["due"] < (HUSHED_SURE_MINUTES if hushed else 1)
    notes["arrival"] = round(min(arrival, 1e4), 1)
    begun = notes.get("rise")
    if begun is None or begun["at"] != target.next_at:
        if waits or (vain and lead > vain_lead(case, plans, tracked, wish, full)):
            notes["rise"] = None
            return Rise()
        begun = notes["rise"] = {
            "at": target.next_at,
            "celsius": target.next_celsius,
            "since": case.steady,
            "vain": vain,
        }
    if notes.get("want") and not case.was_on:
        begun["held"] = begun.get("held", 0) + 1
    near = arrival <= APPROACH_MINUTES
    release = RELEASE_MINUTES if near else FAR_RELEASE_MINUTES + FAR_RELEASE_SHARE * arrival
    bearable = lead + LATE_FOR_EARLY * (lead - arrival)
    rests = slack > release and minutes_to(plans, tracked, wish, full, rest=plans.least_off)[0] <= bearable
    if rests or (not case.was_on and waits):
        if air < target.celsius - LEFT_UNDER_KELVIN and not hushed:
            notes["rise"] = None
            return Rise()
        return Rise(True, target.next_celsius, False)
    if air >= wish:
        return Rise(True, target.next_celsius, None)
    coasts = near and peak(plans, tracked) >= target.next_celsius + COAST_KELVIN
    return Rise(True, target.next_celsius, not coasts)


def minutes_to(
    plans: Plans, tracked: Tracked, celsius: float, full: float, doubt: float = 0.0, rest: int = 0
) -> tuple[float, bool]:
    """Minutes until the air is that warm on full power, inf if not within ten hours; and whether it never is.

    With `doubt`, as if it came out so many usual errors of a forecast colder; with `rest`, after so many minutes off.
    """
    for found, usual, every in ((plans.near, plans.near_usual, NEAR_EVERY), (plans.far, plans.far_usual, FAR_EVERY)):
        course = full_power(found, usual, tracked, full, rest) - doubt * tracked.usual_error(found.minutes)
        reached = _crossing(tracked, course, every, celsius)
        if reached < inf:
            return reached, False
    return inf, True


def careful_minutes(
    plans: Plans, tracked: Tracked, celsius: float, full: float, arrival: float, bias: float
) -> float:
    """How much sooner than reckoned a rise is begun: a share of the way, or what a forecast's error costs.

    `bias` is the share that past arrivals taught.
    """
    reckoned = min(arrival, LONGEST_LEAD_MINUTES)
    unsure = max(0.0, reckoned - SURE_MINUTES)
    colder, _ = minutes_to(plans, tracked, celsius, full, DOUBT)
    most = MOST_CAREFUL_SHARE * reckoned + MOST_CAREFUL_MINUTES
    share = (EARLY_SHARE if tracked.errors else UNKNOWN_SHARE) * unsure
    doubted = (colder - reckoned) * min(1.0, reckoned / MENDED_MINUTES)
    return max(0.0, min(most, max(share, doubted)) + bias * unsure)


def longest_lead(case: Case) -> float:
    """How many minutes before a rise heating for it begins at the soonest."""
    return LONGEST_OUT_MINUTES if case.target.code == "out" else LONGEST_LEAD_MINUTES


def vain_lead(case: Case, plans: Plans, tracked: Tracked, celsius: float, full: float) -> float:
    """How long before a rise that cannot be met heating for it begins."""
    if case.target.code == "out":
        return LONGEST_OUT_MINUTES
    course = full_power(plans.far, plans.far_usual, tracked, full)[: int(LONGEST_LEAD_MINUTES // FAR_EVERY)]
    return NEARLY_LEAD_MINUTES if course.max() >= celsius - NEARLY_KELVIN else VAIN_LEAD_MINUTES


def peak(plans: Plans, tracked: Tracked) -> float:
    """The warmest that the air gets by the heat that is in store already, °C."""
    return float(np.max(full_power(plans.near, plans.near_usual, tracked, 0.0)))


def full_power(found: Course, usual: Usual, tracked: Tracked, full: float, rest: int = 0) -> Array:
    """The air on full power from now on, or from so many minutes of rest on, at a course's samples; of what a usual day
    brings meanwhile a part is counted on."""
    answer = found.stairs((rest,))[0] if rest else found.full
    return np.asarray(tracked.free(found, usual, rising=True) + full * answer)


def _crossing(tracked: Tracked, course: Array, every: int, celsius: float) -> float:
    """Minutes until a course from the air now is that warm: none where it is so already, inf where it never is."""
    now = float(tracked.state[AIR])
    if now >= celsius:
        return 0.0
    if course.max() < celsius:
        return inf
    after = int(np.argmax(course >= celsius))
    before = now if after == 0 else float(course[after - 1])
    return every * (after + (celsius - before) / max(float(course[after]) - before, 1e-9))
