"""Follows the room's six states from minute to minute, and knows when the model is at odds with the sensor.

Rules: all state is in the room's notes, JSON-able; a long silence begins anew from the reading; the power is what
was drawn, not what was wanted.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.heard import KNOTS, mean_changes
from thermostatd.core.demand.predictive.trend import coming, trend_of
from thermostatd.core.forecast import outdoors_now
from thermostatd.core.memory import Notes
from thermostatd.core.values import Forecast
from thermostatd.physics.thermal.fitting import AHEAD_MINUTES
from thermostatd.physics.thermal.model import FREE, NEIGHBOURS, OUTDOOR, POWER, SENSOR, SIZE, Array
from thermostatd.physics.thermal.plans import Plans, Usual
from thermostatd.physics.thermal.responses import Course

MINUTE, DAY_MINUTES = 60.0, 1440.0
LONGEST_BLIND_MINUTES = 45
NEWS_MINUTES = 45.0
DOUBT_MINUTES = 90.0
DOUBTED, TRUSTED = 9.0, 4.0
MOST_DOUBT_STEP = 36.0
SURPRISE_READINGS = 4.0
COUNTED_SHARE = 0.3  # for a rise, of what a usual day brings on its way


@dataclass(frozen=True, slots=True)
class Tracked:
    """The room now: its state (6,), the inputs that hold, and a usual day's free heat, W, and outdoor air, °C.

    Both over the day's mean, in even parts of a day; empty where no usual day is known. A `forecast` stands in for the
    usual day outdoors as far as it reaches.
    """

    state: Array
    inputs: Array
    profile: tuple[float, ...]
    outdoors: tuple[float, ...]
    day_minute: float
    forecast: Forecast | None = None
    errors: tuple[float, ...] = ()
    """RMS errors of the model's forecasts at AHEAD_MINUTES, K; empty where they are not known."""
    around: tuple[float, ...] = ()
    """By how much the neighbours' air is expected to change, K, at KNOTS; empty: as it is."""
    trend: float = 0.0
    """How fast the outdoor air moves beside what a usual day does, K/h."""

    def usual_error(self, minutes: Array) -> Array:
        """How far a forecast so many minutes ahead usually is off, K."""
        if len(self.errors) != len(AHEAD_MINUTES):
            return np.zeros(len(minutes))
        return np.asarray(np.interp(minutes, (0.0, *AHEAD_MINUTES), (0.0, *self.errors)))

    def free(self, found: Course, usual: Usual, *, foretold: bool = True, rising: bool = False) -> Array:
        """The air without any power from now on, at a course's samples: as forecast, or as a usual day goes on.

        Without `foretold` it is always as a usual day goes on, and the neighbours stay as they are. For a rise only a
        part of what a usual day gives more than now is counted on, and without a forecast, what the weather does beside
        it goes on for a while.
        """
        air = found.free(self.state, self.inputs)
        minutes: Array = usual.every * (np.arange(len(air), dtype=float) + 0.5)
        if self.profile:
            gifts = self._changes(self.profile, minutes)
            counted = COUNTED_SHARE if rising else 1.0
            air = air + usual.gift @ np.where(gifts > 0.0, counted * gifts, gifts)
        if self.around and foretold:
            air = air + usual.neighbours @ np.interp(minutes, KNOTS, self.around)
        if self.forecast is not None and foretold:
            return np.asarray(air + usual.outdoors @ self._forecast_changes(self.forecast, minutes))
        if self.outdoors:
            air = air + usual.outdoors @ self._changes(self.outdoors, minutes)
        return np.asarray(air + usual.outdoors @ coming(self.trend, minutes)) if rising else air

    def _changes(self, day: tuple[float, ...], minutes: Array, since: float = 0.0) -> Array:
        """What a usual day brings, so many minutes from now, over what holds `since` minutes from now."""
        return np.asarray(_of_day(day, self.day_minute + minutes) - _of_day(day, self.day_minute + since))

    def _forecast_changes(self, forecast: Forecast, minutes: Array) -> Array:
        """The same outdoors by the forecast; from its last hour on a usual day goes on, where one is known."""
        told = np.array([forecast.at(MINUTE * minute) for minute in minutes]) - forecast.at(0.0)
        ends = forecast.left_seconds / MINUTE
        if self.outdoors:
            told = told + np.where(minutes > ends, self._changes(self.outdoors, minutes, ends), 0.0)
        return told


def is_due(case: Case) -> bool:
    """Take the heat of this step in; whether a minute has passed, so that it is time to decide."""
    notes = case.notes
    notes["joules"] = notes.get("joules", 0.0) + _drawn(case) * min(case.seconds, 600.0)
    return bool(case.steady - notes.get("at", -inf) >= MINUTE - 1e-6)


def follow(case: Case, plans: Plans, thermal: Notes) -> Tracked:
    """The room's state now, after the minutes that have gone by and what was heard in them."""
    notes = case.notes
    gone = case.steady - notes.get("at", -1e12)
    profile, outdoors = tuple(thermal.get("profile") or ()), tuple(thermal.get("outdoors") or ())
    errors = tuple(
        sqrt(max(0.0, float(rms) ** 2 - plans.filter.variance)) for rms in thermal.get("rms_kelvin") or ()
    )
    steps = int(gone / MINUTE + 1e-6)
    if (
        not _whole(notes.get("state"))
        or steps > LONGEST_BLIND_MINUTES
        or notes.get("fitted_at") != thermal.get("at")
    ):
        _begin(case, thermal)
        steps = min(LONGEST_BLIND_MINUTES, max(0, int((case.steady - notes["at"]) / MINUTE + 1e-6)))
    inputs = _inputs(case, profile, notes["joules"] / max(gone, MINUTE) if gone < 1e9 else 0.0)
    usual = float(_of_day(outdoors, case.day_minute)) if outdoors else 0.0
    trend = trend_of(notes, case.outdoor_celsius, usual, gone)
    state = np.array(notes["state"])
    for _ in range(steps):
        state = plans.filter.ahead(state, inputs)
    state = _heard(case, plans, state)
    notes.update(at=case.steady, joules=0.0, state=[round(float(value), 6) for value in state])
    return Tracked(state, inputs, profile, outdoors, case.day_minute, case.forecast, errors,
                   mean_changes(case.neighbours_told, case.steady), trend)  # fmt: skip


def _of_day(day: tuple[float, ...], minutes: Any) -> Any:
    """The part of a day's even parts that holds at some minute of it."""
    return np.array(day)[np.asarray(minutes * len(day) // DAY_MINUTES, dtype=int) % len(day)]


def _drawn(case: Case) -> float:
    if case.drawn_watts is not None:
        return case.drawn_watts
    return case.watts if case.was_on else 0.0


def _inputs(case: Case, profile: tuple[float, ...], watts: float) -> Array:
    inputs = np.zeros(4)
    inputs[POWER] = watts
    inputs[OUTDOOR] = outdoors_now(case.outdoor_celsius, case.forecast)
    inputs[NEIGHBOURS] = case.celsius if case.neighbours_celsius is None else case.neighbours_celsius
    inputs[FREE] = _of_day(profile, case.day_minute) if profile else 0.0
    return inputs


def _begin(case: Case, thermal: Notes) -> None:
    """From where the fit left off, if that was just now; else from the reading, with everything at one temperature."""
    notes = case.notes
    fitted, at = thermal.get("state"), thermal.get("at")
    if _whole(fitted) and at is not None and 0.0 <= case.steady - at <= LONGEST_BLIND_MINUTES * MINUTE:
        notes.update(state=list(fitted or ()), at=at)
    elif _whole(notes.get("state")) and case.steady - notes["at"] <= LONGEST_BLIND_MINUTES * MINUTE:
        pass  # a new model goes on from the old one's state
    else:
        heat = _drawn(case)
        notes.update(state=[heat, case.celsius, case.celsius - 0.3, case.celsius, 0.0, 0.0], at=case.steady)
    notes.update(fitted_at=at, read_at=None, doubt=1.0, surprise=0.0)


def _whole(state: list[float] | None) -> bool:
    """Whether a kept state is one of this model: older programs kept fewer."""
    return state is not None and len(state) == SIZE


def _heard(case: Case, plans: Plans, state: Array) -> Array:
    """The state after a new reading, if one came."""
    notes, at = case.notes, case.air.at
    if at is None or at == notes["read_at"]:
        return _unheard(case, plans, state)
    minutes = 1.0 if notes["read_at"] is None else (at - notes["read_at"]) / MINUTE
    notes["read_at"] = at
    state, surprise = plans.filter.correct(state, case.celsius, minutes)
    share = min(1.0, max(minutes, 1.0) / DOUBT_MINUTES)
    notes["doubt"] += share * (min(surprise * surprise, MOST_DOUBT_STEP) - notes["doubt"])
    notes["surprise"] += (surprise - notes["surprise"]) / SURPRISE_READINGS
    return state


def _unheard(case: Case, plans: Plans, state: Array) -> Array:
    """The state after a minute without a reading: a sensor that speaks on change would have told of more than that."""
    off, most = case.celsius - float(state[SENSOR]), case.air.change
    if not most or abs(off) <= most:
        return state
    gain, _ = plans.filter.gain(1.0)
    return np.asarray(state + gain * (off - most if off > 0.0 else off + most))


def at_odds(notes: Notes) -> bool:
    """Whether the forecasts have been so far off, for so long, that the model is not to be gone by."""
    doubted = notes["doubt"] > (TRUSTED if notes.get("at_odds") else DOUBTED)
    notes["at_odds"] = bool(doubted)
    return bool(doubted)
