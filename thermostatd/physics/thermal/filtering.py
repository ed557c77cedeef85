"""Tracks the six states from a room's readings: a steady Kalman filter whose gain fits the sensor's own pace.

Rules: covariances are solved once a model and kept; a value in steps tells an interval, not a number, and its
mean within that interval is what counts; noise is per minute.
"""

from __future__ import annotations

from math import erf, exp, pi, sqrt

import numpy as np

from thermostatd.physics.thermal.model import AIR, LEVEL, MASS, SENSOR, SIZE, Array, D, Z

GAPS = (1, 2, 3, 5, 8, 12, 20, 30)
AIR_NOISE_KELVIN, MASS_NOISE_KELVIN, SENSOR_NOISE_KELVIN = 0.006, 0.0015, 0.002
HEAT_NOISE_SHARE, LEVEL_NOISE_SHARE = 0.004, 0.0012


def process_noise(drift_watts: Array, watts: float) -> Array:
    """Covariance (…, 6, 6) that a minute adds."""
    drift = np.asarray(drift_watts, dtype=np.float64)
    noise = np.zeros((*drift.shape, SIZE, SIZE))
    noise[..., Z, Z] = (HEAT_NOISE_SHARE * watts) ** 2
    noise[..., AIR, AIR] = AIR_NOISE_KELVIN**2
    noise[..., MASS, MASS] = MASS_NOISE_KELVIN**2
    noise[..., SENSOR, SENSOR] = SENSOR_NOISE_KELVIN**2
    noise[..., D, D] = drift**2
    noise[..., LEVEL, LEVEL] = (LEVEL_NOISE_SHARE * watts) ** 2
    return noise


def reading_variance(step_kelvin: float, noise_kelvin: float = 0.03) -> float:
    """Variance of a reading in steps: its noise and the step's own, K²."""
    return noise_kelvin**2 + step_kelvin**2 / 12.0


def steady_covariance(a: Array, noise: Array, variance: float) -> Array:
    """What is unknown (…, 6, 6) just before each reading of the sensor, once settled: doubling, DARE."""
    f = np.swapaxes(a, -1, -2).copy()
    g = np.zeros_like(f)
    g[..., SENSOR, SENSOR] = 1.0 / variance
    h = np.broadcast_to(noise, f.shape).copy()
    one = np.eye(f.shape[-1])
    for _ in range(40):
        w = np.linalg.solve(one + g @ h, np.concatenate([f, g], axis=-1))
        wf, wg = w[..., :SIZE], w[..., SIZE:]
        f_t = np.swapaxes(f, -1, -2)
        more = f_t @ h @ wf
        g = g + f @ wg @ f_t
        f = f @ wf
        h = h + more
        if np.max(np.abs(more)) <= 1e-10 * np.max(np.abs(h)):
            break
    return 0.5 * (h + np.swapaxes(h, -1, -2))


def gain_of(covariance: Array, variance: float) -> tuple[Array, Array]:
    """The gain (…, 6) of a reading and the variance (…) of its surprise."""
    surprise = covariance[..., SENSOR, SENSOR] + variance
    return covariance[..., :, SENSOR] / surprise[..., None], surprise


def over_gap(a: Array, noise: Array, steps: int) -> tuple[Array, Array]:
    """State matrix and noise of several steps on end."""
    power, total = a, noise
    for _ in range(steps - 1):
        total = a @ total @ np.swapaxes(a, -1, -2) + noise
        power = a @ power
    return power, total


class Filter:
    """Gains of one model by minutes between readings. `a`, `b` are its minute's matrices."""

    def __init__(self, a: Array, b: Array, drift_watts: float, watts: float, step_kelvin: float) -> None:
        self.a, self.b, self.step_kelvin = a, b, step_kelvin
        self._noise = process_noise(np.array(drift_watts), watts)
        self.variance = reading_variance(step_kelvin)
        self._gains: dict[int, tuple[Array, float]] = {}

    def gain(self, minutes: float) -> tuple[Array, float]:
        """Gain (6,) and the standard deviation of a surprise, K, for readings that many minutes apart."""
        gap = min(GAPS, key=lambda one: abs(one - minutes))
        if gap not in self._gains:
            covariance = steady_covariance(*over_gap(self.a, self._noise, gap), self.variance)
            gain, surprise = gain_of(covariance, self.variance)
            self._gains[gap] = (gain, sqrt(float(surprise)))
        return self._gains[gap]

    def ahead(self, state: Array, inputs: Array) -> Array:
        """The state a minute later."""
        return np.asarray(self.a @ state + self.b @ inputs)

    def correct(self, state: Array, celsius: float, minutes: float) -> tuple[Array, float]:
        """The state after a reading, and the reading's surprise in standard deviations."""
        gain, spread = self.gain(minutes)
        expected = float(state[SENSOR])
        surprise = interval_mean(celsius - expected, self.step_kelvin, spread)
        return state + gain * surprise, (celsius - expected) / spread


def interval_mean(off: float, step: float, spread: float) -> float:
    """Mean surprise, K, of a value known only to lie within half a `step` of `off`, spread K around zero."""
    if step < 0.25:
        return off
    low, high = (off - step / 2.0) / spread, (off + step / 2.0) / spread
    if low > 6.0 or high < -6.0:
        return off - step / 2.0 if low > 0 else off + step / 2.0
    inside = 0.5 * (erf(high / sqrt(2.0)) - erf(low / sqrt(2.0)))
    if inside < 1e-9:
        return off - step / 2.0 if low > 0 else off + step / 2.0
    density = (exp(-0.5 * low * low) - exp(-0.5 * high * high)) / sqrt(2.0 * pi)
    return spread * density / inside
