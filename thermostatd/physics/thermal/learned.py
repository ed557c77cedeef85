"""Whether a record tells enough to search by, and what it tells.

Rules: fitted on the first three quarters, judged on the rest; it must forecast those hours better than the model in
use and clearly better than "it stays as it is"; and the record must pin down how the air answers to heat, for a fit
that takes heat for a disturbance ends in a heater that never moves. Only then is it fitted again to everything. A
record of days on which the room was held well tells of half an hour and not of three: it changes little.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thermostatd.physics.thermal.fitting import (
    AHEAD_MINUTES,
    NAMES,
    Fitted,
    Prior,
    filtered,
    fit,
    fit_best,
    forecast_errors,
    smoothed,
    to_constants,
    to_parameters,
    to_values,
    usual,
)
from thermostatd.physics.thermal.model import LEVEL, OUTDOOR, Array, Constants, D, discrete
from thermostatd.physics.thermal.record import Record
from thermostatd.physics.thermal.responses import course

LEAST_HOURS = 15.0
TRAIN_SHARE = 0.75
JUDGED = 3  # ten, thirty and ninety minutes: over hours, a held room stays as it is whatever its model
BETTER_THAN_STILL = 0.95
MUCH_BETTER = 1.02
ANSWER_MINUTES = 60
MOST_ANSWER_SPREAD = 0.3
MASS_NAME, MOST_MASS_SPREADS, STRICT = 2, 2.8, 0.3
ANCHOR_MINUTES, MOVED_AS_MUCH, MOST_OTHER = (60, 180), 0.5, 1.5
MOST_MOVED_KELVIN = 0.4
"""Half of it is what a relay's swings come to: a room that has changed, and is heated by one again, can say so."""
MODEL_ERROR = 2.5
"""So many times what the fit says of itself: rooms of the simulated house lost 3 to 16 % more than was told of them."""
PROFILE_BINS, OUTDOOR_BINS = 48, 24
PROFILE_TRUST_DAYS = 1.5
LEAST_PROFILE_DAYS = 1.8
LEAST_OUTDOOR_RANGE = 0.5


@dataclass(frozen=True, slots=True)
class Judged:
    """A model found good. `plain` is JSON-able and holds all that control and people need."""

    constants: Constants
    plain: dict[str, Any]


def learn(
    record: Record, heater_seconds: float, many_rooms: bool, old: Mapping[str, Any] | None
) -> Judged | None:
    """The model of this record; None where it tells too little, or the one in use forecasts better."""
    usable = np.isfinite(record.celsius) & (record.broken() < 0.5)
    if usable.sum() * record.minutes / 60.0 < LEAST_HOURS * 0.2 or record.hours < LEAST_HOURS:
        return None
    prior = usual(record.watts, heater_seconds, many_rooms)
    split = int(TRAIN_SHARE * len(record))
    head = Record(
        record.minutes, record.celsius[:split], record.inputs[:split], record.watts, record.step_kelvin
    )
    tried = fit_best(head, prior)
    score = _score(record, tried.parameters, split)
    if not score < BETTER_THAN_STILL * _still(record, split):
        return None
    known = _known(old, prior)
    if known is not None and score > MUCH_BETTER * _score(record, known, split):
        return None
    whole = _credible(record, prior, tried)
    if whole is None or (spread := answer_spread(whole)) > MOST_ANSWER_SPREAD:
        return None
    anchor = anchor_of(record, whole.parameters, old)
    return Judged(whole.constants, {**_plain(record, whole, spread, score), **anchor}) if anchor else None


def _credible(record: Record, prior: Prior, tried: Fitted) -> Fitted | None:
    """The fit to everything, and where its mass is none that a room has, one whose mass is held to what is usual.

    Only the mass: what the record does tell, of the air's answer to heat above all, is not to be drawn to the usual.
    """
    whole = fit(record, prior, tried.parameters, rounds=12)
    if has_credible_mass(whole.parameters, prior):
        return whole
    spread = prior.spread.copy()
    spread[MASS_NAME] *= STRICT
    again = fit(record, replace(prior, spread=spread), tried.parameters, rounds=12)
    return again if has_credible_mass(again.parameters, prior) else None


def has_credible_mass(parameters: Array, prior: Prior) -> bool:
    """Whether the mass is within some sixteen times what is usual: a room that is held tells nothing of it, and errors
    that go together outweigh any prior."""
    return bool(abs(parameters[MASS_NAME] - prior.mean[MASS_NAME]) <= MOST_MASS_SPREADS * prior.spread[MASS_NAME])


def anchor_of(record: Record, parameters: Array, old: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """How the air answers to heat, by the record that moved most; None where a new one that moved much less says other.

    Days on which a room was held tell of half an hour and not of three; what they say of those is chance.
    """
    answers = [round(answer_kelvin(parameters, minutes), 7) for minutes in ANCHOR_MINUTES]
    moved = round(min(MOST_MOVED_KELVIN, float(np.nanstd(record.celsius))), 4)
    before, moved_then = (old or {}).get("answers"), float((old or {}).get("moved_kelvin") or 0.0)
    if not before or moved >= MOVED_AS_MUCH * moved_then:
        # the most that any moved: else each night's a little less would let the next one say other
        return {"answers": answers, "moved_kelvin": max(moved, moved_then)}
    ratios = [new / float(was) for new, was in zip(answers, before, strict=True)]
    if not all(1.0 / MOST_OTHER <= ratio <= MOST_OTHER for ratio in ratios):
        return None
    return {"answers": list(before), "moved_kelvin": moved_then}


def _known(old: Mapping[str, Any] | None, prior: Prior) -> Array | None:
    """The parameters of the model in use; None where it cannot be used, or an older program took one of no room."""
    try:
        parameters = to_parameters(Constants.of(old["constants"])) if old is not None else None
    except (ValueError, KeyError, TypeError):
        return None
    return parameters if parameters is not None and has_credible_mass(parameters, prior) else None


def _score(record: Record, parameters: Array, since: int) -> float:
    """Mean over the distances ahead, up to what is judged, of the mean error size, K."""
    errors = forecast_errors(record, parameters, since)[:JUDGED]
    return float(np.mean([np.mean(np.abs(e)) if len(e) else np.inf for e in errors]))


def _still(record: Record, since: int) -> float:
    """The same for "the air stays as it is"."""
    means = []
    for minutes in AHEAD_MINUTES[:JUDGED]:
        steps = minutes // record.minutes
        moved = np.abs(record.celsius[since + steps :] - record.celsius[since:-steps])
        means.append(float(np.nanmean(moved)) if np.isfinite(moved).any() else 0.0)
    return float(np.mean(means))


def answer_kelvin(parameters: Array, minutes: int = ANSWER_MINUTES) -> float:
    """The air's answer to a watt after so many minutes, K."""
    a, b = discrete(to_values(parameters)[:8], 60.0)
    return float(course(a, b, minutes, 1).power[-1])


def answer_spread(fitted: Fitted) -> float:
    """Standard deviation of the logarithm of that answer: what the record and the prior leave open."""
    base = np.log(answer_kelvin(fitted.parameters))
    slope = np.array(
        [(np.log(answer_kelvin(fitted.parameters + 1e-4 * one)) - base) / 1e-4 for one in np.eye(NAMES)]
    )
    return float(np.sqrt(slope @ fitted.covariance @ slope))


def _plain(record: Record, whole: Fitted, spread: float, score: float) -> dict[str, Any]:
    loss, loss_spread = _with_spread(whole, lambda c: c.loss_watts_per_kelvin)
    hours, hours_spread = _with_spread(whole, lambda c: c.settling_seconds / 3600.0)
    usual_day = profile(record, whole.parameters)
    return {
        "constants": whole.constants.plain(),
        "step_kelvin": round(record.step_kelvin, 3),
        "watts": round(record.watts, 1),
        "profile": usual_day,
        "outdoors": outdoors(record),
        "state": _last_state(record, whole.parameters, usual_day),
        "loss_watts_per_kelvin": round(loss, 2),
        "loss_spread_watts_per_kelvin": round(loss_spread, 2),
        "settling_hours": round(hours, 2),
        "settling_spread_hours": round(hours_spread, 2),
        "answer_spread": round(spread, 3),
        "rms_kelvin": [round(value, 4) for value in whole.rms_kelvin],
        "held_out_kelvin": round(score, 4),
        "hours": round(record.hours, 1),
    }


def _last_state(record: Record, parameters: Array, usual_day: list[float]) -> list[float]:
    """The state at the record's end, with what a usual day brings taken out of the disturbance."""
    rows = np.atleast_2d(parameters)
    a, b = discrete(to_values(rows)[:, :8], record.minutes * 60.0)
    state = filtered(record, rows, a, b)[-1, 0]
    if usual_day:
        minute = record.first_minute + len(record) * record.minutes
        state[D] -= usual_day[int(minute // 30) % len(usual_day)]
    return [round(float(value), 5) for value in state]


def _with_spread(whole: Fitted, of: Any) -> tuple[float, float]:
    """A value of the constants and its standard deviation: by its slopes in the parameters, and for what a room of two
    masses lacks of a true one."""
    value = float(of(whole.constants))
    slope = np.array(
        [(float(of(to_constants(whole.parameters + 1e-4 * one))) - value) / 1e-4 for one in np.eye(NAMES)]
    )
    return value, MODEL_ERROR * float(np.sqrt(slope @ whole.covariance @ slope))


def profile(record: Record, parameters: Array) -> list[float]:
    """What each half hour of a usual day brings for free beyond the mean, W; empty before two days are known.

    By all readings, those that came after as well: one that looks back only sees people half an hour after they came.
    """
    days = record.hours / 24.0
    if days < LEAST_PROFILE_DAYS:
        return []
    rows = np.atleast_2d(parameters)
    a, b = discrete(to_values(rows)[:, :8], record.minutes * 60.0)
    drift = smoothed(record, rows, a, b)[:, 0, [D, LEVEL]].sum(axis=1)
    good = record.broken() < 0.5
    return _by_day(drift[good], _minutes(record)[good], PROFILE_BINS, days)


def outdoors(record: Record) -> list[float]:
    """The outdoor air of a usual day by hours, over its mean, K; empty where it is not known for two days."""
    days, celsius = record.hours / 24.0, record.inputs[:, OUTDOOR]
    if days < LEAST_PROFILE_DAYS or np.ptp(celsius) < LEAST_OUTDOOR_RANGE:
        return []
    return _by_day(celsius, _minutes(record), OUTDOOR_BINS, days)


def _minutes(record: Record) -> Array:
    """The minute of the first day at which each step begins."""
    return np.asarray(record.first_minute + np.arange(len(record)) * float(record.minutes))


def _by_day(values: Array, minute: Array, bins: int, days: float) -> list[float]:
    """Means over the time of day, less the mean of all, drawn towards nothing while few days are known."""
    place = (minute * bins // 1440).astype(int) % bins
    counts = np.bincount(place, minlength=bins)
    means = np.bincount(place, values, bins) / np.maximum(counts, 1)
    trust = days / (days + PROFILE_TRUST_DAYS)
    return [round(trust * float(value), 1) for value in means - np.mean(means)]
