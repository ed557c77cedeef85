"""Fits a room's constants to its record: robust errors of forecasts from ten minutes to four hours ahead, and priors.

Rules: parameters are logarithms (a logit for the radiant share); each has a prior, so that what the record does
not tell stays at what is usual; Gauss–Newton with Levenberg's damping over a batch of small filters, numpy only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermostatd.physics.thermal.filtering import (
    gain_of,
    over_gap,
    process_noise,
    reading_variance,
    steady_covariance,
)
from thermostatd.physics.thermal.model import AIR, MASS, SENSOR, SIZE, Array, Constants, discrete
from thermostatd.physics.thermal.record import Record

Steps = NDArray[np.intp]
AHEAD_MINUTES = (10, 30, 90, 240)
JUDGE_EACH_MINUTES = 10
HUBER = 1.5
TRUSTS = (0.35, 0.35, 0.25, 0.2)
"""Neighbouring errors say the same: each counts for this share of one of its own."""
ROUNDS = 18
NAMES = 9
_LOGIT = 7
_DIFFERENCE = 1e-4


@dataclass(frozen=True, slots=True)
class Prior:
    """What is usual before anything was seen: parameters and their standard deviations."""

    mean: Array
    spread: Array


@dataclass(frozen=True, slots=True)
class Fitted:
    """The constants, the standard deviations of their logarithms (9,), their covariance, and the RMS errors, K."""

    constants: Constants
    parameters: Array
    covariance: Array
    rms_kelvin: tuple[float, ...]


def usual(watts: float, heater_seconds: float, many_rooms: bool) -> Prior:
    """A room that its heater can warm by some 30 K, with a wide spread; the heater's and sensor's lags much less so.

    Those two lags in series look alike in the readings: left free, what the model lacks goes to the sensor, the air is
    taken for warmer than it is while it rises, and every arrival comes late by as much.
    """
    loss = watts / 30.0
    mean = Constants(
        heater_seconds=heater_seconds,
        air_joules_per_kelvin=loss * 3600.0 * 2.0,
        mass_joules_per_kelvin=loss * 3600.0 * 40.0,
        to_mass=loss * 6.0,
        to_outdoors=loss,
        to_neighbours=loss * 0.25,
        sensor_seconds=400.0,
        radiant=0.3,
        drift_watts=watts * 0.006,
    )
    spread = np.array([0.3, 1.0, 1.0, 1.0, 0.7, 0.4 if many_rooms else 0.05, 0.1, 0.3, 0.7])
    return Prior(to_parameters(mean), spread)


def to_parameters(constants: Constants) -> Array:
    """Constants as unbounded parameters."""
    values = np.array([getattr(constants, name) for name in Constants.__slots__])
    out = np.log(values)
    out[_LOGIT] = np.log(values[_LOGIT] / (1.0 - values[_LOGIT]))
    return np.asarray(out)


def to_values(parameters: Array) -> Array:
    """Rows of parameters (…, 9) as rows of constants."""
    out = np.exp(parameters)
    out[..., _LOGIT] = out[..., _LOGIT] / (1.0 + out[..., _LOGIT])
    return np.asarray(out)


def to_constants(parameters: Array) -> Constants:
    """One row of parameters as constants."""
    return Constants(*(float(value) for value in to_values(parameters)))


def fit_best(record: Record, prior: Prior) -> Fitted:
    """The better of two fits: from what is usual, and from a light air that most heat reaches by way of the mass."""
    other = prior.mean + np.array([0.0, -1.2, -0.7, -2.0, 0.0, 0.0, 0.0, 2.3, -1.5])
    fits = [fit(record, prior), fit(record, prior, other)]
    bad = record.broken()
    errors = [[one[0] for one in _forecasts(record, f.parameters[None, :], bad)] for f in fits]
    scales = _scales(errors[0])
    return min(
        zip(fits, errors, strict=True), key=lambda pair: _cost(pair[1], scales, pair[0].parameters, prior)
    )[0]


def fit(record: Record, prior: Prior, start: Array | None = None, rounds: int = ROUNDS) -> Fitted:
    """The constants that explain the record best beside the prior; from a start of one's own, or the prior's mean."""
    bad = record.broken()
    here = prior.mean.copy() if start is None else start.copy()
    damping, scale = 1e-2, None
    errors, slopes = _errors_and_slopes(record, here, bad)
    for _ in range(rounds):
        scale = _scales(errors)
        cost, gradient, curvature = _normal(errors, slopes, scale, here, prior)
        moved = False
        for _ in range(5):
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), -gradient)
            there = here + np.clip(step, -1.0, 1.0)
            errors_there, slopes_there = _errors_and_slopes(record, there, bad)
            cost_there = _cost(errors_there, scale, there, prior)
            if cost_there < cost:
                moved = True
                break
            damping *= 8.0
        if not moved:
            break
        small = cost - cost_there < 1e-3 * (1.0 + 1e-3 * cost)
        here, errors, slopes, damping = there, errors_there, slopes_there, max(damping / 6.0, 1e-6)
        if small:
            break
    scale = _scales(errors)
    _, _, curvature = _normal(errors, slopes, scale, here, prior)
    rms = tuple(float(np.sqrt(np.mean(e * e))) if len(e) else float("nan") for e in errors)
    return Fitted(to_constants(here), here, np.asarray(np.linalg.inv(curvature)), rms)


def forecast_errors(record: Record, parameters: Array, since: int = 0) -> list[Array]:
    """Errors, K, of the forecasts made after step `since`, for each distance ahead."""
    bad = record.broken()
    bad[:since] = 1.0
    return [errors[0] for errors in _forecasts(record, np.atleast_2d(parameters), bad)]


def _errors_and_slopes(record: Record, here: Array, bad: Array) -> tuple[list[Array], list[Array]]:
    rows = np.vstack([here, here + _DIFFERENCE * np.eye(NAMES)])
    found = _forecasts(record, rows, bad)
    return [one[0] for one in found], [(one[1:] - one[0]) / _DIFFERENCE for one in found]


def _scales(errors: list[Array]) -> list[float]:
    """A robust spread of each kind of error, K."""
    return [max(0.03, 1.4826 * float(np.median(np.abs(e)))) if len(e) else 1.0 for e in errors]


def _cost(errors: list[Array], scales: list[float], here: Array, prior: Prior) -> float:
    total = 0.5 * float(np.sum(((here - prior.mean) / prior.spread) ** 2))
    for error, scale, trust in zip(errors, scales, TRUSTS, strict=True):
        size = np.abs(error) / scale
        total += trust * float(np.sum(np.where(size <= HUBER, 0.5 * size**2, HUBER * (size - 0.5 * HUBER))))
    return total


def _normal(
    errors: list[Array], slopes: list[Array], scales: list[float], here: Array, prior: Prior
) -> tuple[float, Array, Array]:
    """Cost, gradient and curvature."""
    gradient = (here - prior.mean) / prior.spread**2
    curvature = np.diag(1.0 / prior.spread**2)
    for error, slope, scale, trust in zip(errors, slopes, scales, TRUSTS, strict=True):
        size = np.abs(error) / scale
        weight = trust * np.where(size <= HUBER, 1.0, HUBER / np.maximum(size, 1e-12)) / scale**2
        gradient = gradient + slope @ (weight * error)
        curvature = curvature + (slope * weight) @ slope.T
    return _cost(errors, scales, here, prior), gradient, curvature


def _forecasts(record: Record, rows: Array, bad: Array) -> list[Array]:
    """Errors (rows, judged) for each distance ahead."""
    a, b = discrete(to_values(rows)[:, :8], record.minutes * 60.0)
    states = filtered(record, rows, a, b)
    usable = np.isfinite(record.celsius) & (bad < 0.5)
    out = []
    for minutes in AHEAD_MINUTES:
        steps = minutes // record.minutes
        each = max(1, JUDGE_EACH_MINUTES // record.minutes)
        at = np.arange(steps, len(record), dtype=np.intp)
        at = at[usable[at] & (bad[at - steps] < 0.5)]
        out.append(_ahead(record, a, b, states, _thinned(at, each), steps))
    return out


def _thinned(at: Steps, each: int) -> Steps:
    """Of these steps at most one in each stretch of `each`."""
    _, first = np.unique(at // each, return_index=True)
    return at[first]


def filtered(record: Record, rows: Array, a: Array, b: Array) -> Array:
    """States (n, rows, 6) after each step's reading."""
    count = len(rows)
    gain = gain_of(_covariance(record, rows, a), reading_variance(record.step_kelvin))[0]
    state = np.zeros((count, SIZE))
    heard = np.isfinite(record.celsius)
    first = record.celsius[np.argmax(heard)] if heard.any() else 20.0
    state[:, [AIR, MASS, SENSOR]] = first
    forced = np.einsum("rij,nj->nri", b, record.inputs)
    states = np.empty((len(record), count, SIZE))
    for index in range(len(record)):
        state = np.matmul(a, state[:, :, None])[:, :, 0] + forced[index]
        if heard[index]:
            state = state + gain * (record.celsius[index] - state[:, SENSOR])[:, None]
        states[index] = state
    return states


def smoothed(record: Record, rows: Array, a: Array, b: Array) -> Array:
    """States (n, rows, 6) of each step by all readings, later ones too.

    Source: Rauch, Tung and Striebel, Maximum likelihood estimates of linear dynamic systems, AIAA Journal 3 (1965); its
    gain is the settled one.
    """
    out = filtered(record, rows, a, b)
    covariance = _covariance(record, rows, a)
    gain, _ = gain_of(covariance, reading_variance(record.step_kelvin))
    after = covariance - gain[..., :, None] * covariance[..., SENSOR, None, :]
    back = np.swapaxes(np.linalg.solve(covariance, a @ after), -1, -2)
    ahead = np.einsum("rij,nrj->nri", a, out[:-1]) + np.einsum("rij,nj->nri", b, record.inputs[1:])
    for index in range(len(out) - 2, -1, -1):
        out[index] += np.matmul(back, (out[index + 1] - ahead[index])[:, :, None])[:, :, 0]
    return out


def _covariance(record: Record, rows: Array, a: Array) -> Array:
    """What is unknown (rows, 6, 6) before a reading."""
    noise = process_noise(np.exp(rows[:, 8]), record.watts)
    _, noise = over_gap(np.eye(SIZE), noise, record.minutes)
    variance = reading_variance(record.step_kelvin)
    return steady_covariance(*over_gap(a, noise, _usual_gap(record)), variance)


def _usual_gap(record: Record) -> int:
    """Steps between readings."""
    heard = np.flatnonzero(np.isfinite(record.celsius))
    return max(1, round(float(np.median(np.diff(heard))))) if len(heard) > 2 else 1


def _ahead(record: Record, a: Array, b: Array, states: Array, at: Steps, steps: int) -> Array:
    """Reading minus forecast (rows, len(at)), made `steps` before each."""
    count = len(a)
    row = np.zeros((count, SIZE))
    row[:, SENSOR] = 1.0
    total = np.zeros((count, len(at)))
    for back in range(steps):  # what came in `back` steps before the judged one
        effect = np.einsum("rj,rji->ri", row, b)
        total += effect @ record.inputs[at - back].T
        row = np.einsum("rj,rji->ri", row, a)
    total += np.einsum("rj,nrj->rn", row, states[at - steps])
    return np.asarray(record.celsius[at] - total)
