"""Why a heater is to be doubted, so that a rest is worth its comfort, and whether one begun now would tell.

Rules, for a cause:
- the air has fallen by a kelvin within some hours of heat, or another room seems to get this heater's warmth;
- or it is two kelvins short of its target and has not risen in two hours of heat, whatever was answered before;
- or the air has ceased to answer ordinary switchings as it did (answering.py), and stands no higher for this run;
- or an hour of heat after a rest that was not answered; or one or two without a lift, where nothing told within a
  day that the heater is here: neither a rest nor ordinary switchings.
Where one rest after another told, the next is asked for after twice and then four times as long.
For some hours after a window was noticed, falling air is no cause. A value that has not moved by one step since the
run began may come from a frozen sensor, and is left to `reading-missing` for two hours first. A rest that tells
begins in heat, never in a pause of the pace; and where several heaters warm a room, while the others stay as they are.
"""

from __future__ import annotations

from math import inf

from thermostatd.core.guard.case import Case
from thermostatd.core.guard.no_answer import answering, swapped
from thermostatd.core.guard.no_answer.air import aired, bound_kelvin
from thermostatd.core.guard.no_answer.rest import ON_END_SECONDS
from thermostatd.core.guard.no_answer.run import HEAT_SECONDS, lift_kelvin, seconds_of
from thermostatd.core.memory import Notes
from thermostatd.core.plug import switched_at

LONG_HEAT_SECONDS = 7200.0
SOME_LIFT_SHARE = 0.35  # of the bound: a lift that is on its way is waited for
TRUST_SECONDS = 24 * 3600.0
FALLEN_KELVIN = 1.0
TOLD_SECONDS, FAR_FALLEN_KELVIN = 12 * 3600.0, 2.0  # after a rest that told, only a far fall asks again so soon
MOST_PATIENCE = 4  # times those two, where rests on end told: one too weak for the cold is to lose no more by it
FAR_SHORT_KELVIN, HIGH_LIFT_KELVIN = 2.0, 1.0
LEAST_MEAN_WATTS = 150.0  # of a paced heater; less is lost in what the air does by itself
FROZEN_SECONDS, CALM_SECONDS = 7800.0, 1200.0


def would_tell(case: Case, ran: Notes) -> bool:
    """Whether a rest begun now would tell."""
    seconds = seconds_of(case, ran)
    since_on = case.now.steady - case.kept.on_since if case.kept.on_since is not None else 0.0
    heated = since_on >= case.heater.min_on and ran["joules"] >= LEAST_MEAN_WATTS * seconds
    return heated and not _may_be_frozen(case, ran, seconds) and _calm(case)


def has_cause(case: Case, notes: Notes, ran: Notes, celsius: float) -> bool:
    """Why this heater is to be doubted, if it is."""
    now, seconds = case.now, seconds_of(case, ran)
    if aired(case):
        return False
    if now.steady - notes.get("passed_at", -inf) >= TRUST_SECONDS and swapped.suspects(case, celsius):
        return True
    if seconds < HEAT_SECONDS:
        return False
    lift = lift_kelvin(ran, celsius, seconds)
    if answering.doubts(notes):
        if not _stands_high(ran, celsius, lift):
            return True
        answering.doubt_less(notes)  # air that comes up to what a heater can do ceases to rise
    return _falls_or_stays_cold(case, notes, ran, celsius) or _lacks_an_answer(case, notes, ran, lift)


def _falls_or_stays_cold(case: Case, notes: Notes, ran: Notes, celsius: float) -> bool:
    """What the air tells whatever was answered before."""
    told_lately = case.now.steady - notes.get("told_at", -inf) < TOLD_SECONDS * _patience(case, notes)
    if celsius <= ran["peak"] - (FAR_FALLEN_KELVIN if told_lately else FALLEN_KELVIN):
        return True
    long = seconds_of(case, ran) >= LONG_HEAT_SECONDS
    return long and not told_lately and _stays_cold(case, ran, celsius)


def _lacks_an_answer(case: Case, notes: Notes, ran: Notes, lift: float) -> bool:
    """Whether nothing told for a day, or patience, that the heater is here, and this run does not either."""
    seconds = seconds_of(case, ran)
    if case.now.steady - notes.get("answered_at", -inf) < TRUST_SECONDS * _patience(case, notes):
        return False
    if notes.get("failed"):
        return True  # one rest was not answered: another one decides
    little = lift < SOME_LIFT_SHARE * bound_kelvin(ran["joules"] / seconds)
    return not ran["lifted"] and (little or seconds >= LONG_HEAT_SECONDS)


def _patience(case: Case, notes: Notes) -> int:
    """So many times as long as usual nothing is asked: twice after two rests that told, four times after more."""
    if case.now.steady - notes.get("told_at", -inf) >= ON_END_SECONDS:
        return 1
    return min(MOST_PATIENCE, 1 << max(0, int(notes.get("told_on_end", 1)) - 1))


def _stands_high(ran: Notes, celsius: float, lift: float) -> bool:
    """Whether this run has plainly warmed the air, and it is still about as warm as it became."""
    return lift >= HIGH_LIFT_KELVIN and celsius >= ran["peak"] - HIGH_LIFT_KELVIN / 4.0


def _stays_cold(case: Case, ran: Notes, celsius: float) -> bool:
    """Whether a room far short of its target is no warmer than when this run of heat began."""
    far = case.target is not None and celsius <= case.target.celsius - FAR_SHORT_KELVIN
    return far and celsius <= ran["celsius"]


def _calm(case: Case) -> bool:
    """Whether the room's other heaters have been as they are for a while."""
    assert case.room is not None
    for heater in case.room.heaters if len(case.room.heaters) > 1 else ():
        key = case.room.key_of(heater)
        if key != case.key and case.now.steady - switched_at(case.memory.heaters[key]) < CALM_SECONDS:
            return False
    return True


def _may_be_frozen(case: Case, ran: Notes, seconds: float) -> bool:
    air = case.air_memory
    still = air is not None and air.unchanged_since is not None and air.unchanged_since <= ran["since"]
    return still and seconds < FROZEN_SECONDS
