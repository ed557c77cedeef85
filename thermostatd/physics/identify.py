"""Learning a room's first-order response from its own record.

Per step of `step_seconds`: ΔT = a·(T_out − T) + b·u + c, solved by least squares; time constant
τ = step/a, gain at full power k = b/a. The dead time is the lag of u, in half steps, that explains the record
best: over half a step u is the mean of two neighbours, as it is where the record holds means.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

FEWEST_STEPS = 144
LEAST_DUTY, MOST_DUTY = 0.02, 0.98
TAU_RANGE_SECONDS = (1800.0, 200 * 3600.0)
GAIN_RANGE_KELVIN = (2.0, 150.0)


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """Gain, K at full power; time constant, s; dead time, s; RMS of what it leaves unexplained, K a step."""

    gain_kelvin: float
    tau_seconds: float
    dead_seconds: float
    residual_kelvin: float


def first_order(
    air_celsius: Sequence[float],
    outdoor_celsius: Sequence[float],
    share: Sequence[float],
    step_seconds: float,
    most_lag_steps: int = 8,
) -> FirstOrder | None:
    """The best first-order model of an evenly sampled record; None where the record does not tell one."""
    count = len(air_celsius)
    duty = sum(share) / count if count else 0.0
    if count < FEWEST_STEPS or not LEAST_DUTY <= duty <= MOST_DUTY:
        return None
    candidates = (
        _with_lag(air_celsius, outdoor_celsius, share, step_seconds, halves / 2.0)
        for halves in range(2 * most_lag_steps + 1)
    )
    return min((c for c in candidates if c is not None), key=lambda c: c.residual_kelvin, default=None)


def _with_lag(
    air: Sequence[float], outdoor: Sequence[float], share: Sequence[float], step: float, lag: float
) -> FirstOrder | None:
    far, near = ceil(lag), floor(lag)
    rows = [
        (outdoor[k] - air[k], (share[k - far] + share[k - near]) / 2.0, 1.0) for k in range(far, len(air) - 1)
    ]
    rises = [air[k + 1] - air[k] for k in range(far, len(air) - 1)]
    solved = least_squares(rows, rises)
    if solved is None or solved[0] <= 0:
        return None
    loss, gain, rest = solved
    tau, kelvin = step / loss, gain / loss
    within = (
        TAU_RANGE_SECONDS[0] <= tau <= TAU_RANGE_SECONDS[1]
        and GAIN_RANGE_KELVIN[0] <= kelvin <= GAIN_RANGE_KELVIN[1]
    )
    if not within:
        return None
    squares = sum(
        (rise - loss * d - gain * u - rest) ** 2 for rise, (d, u, _) in zip(rises, rows, strict=True)
    )
    return FirstOrder(kelvin, tau, max(lag * step, step / 2.0), (squares / len(rises)) ** 0.5)


def least_squares(rows: Sequence[tuple[float, ...]], values: Sequence[float]) -> tuple[float, ...] | None:
    """The coefficients that fit best, by the normal equations; None where they are not determined."""
    size = len(rows[0]) if rows else 0
    matrix = [
        [sum(row[i] * row[j] for row in rows) for j in range(size)]
        + [sum(row[i] * value for row, value in zip(rows, values, strict=True))]
        for i in range(size)
    ]
    for column in range(size):
        pivot = max(range(column, size), key=lambda r: abs(matrix[r][column]))
        if abs(matrix[pivot][column]) < 1e-9:
            return None
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        for other in range(size):
            if other != column:
                factor = matrix[other][column] / matrix[column][column]
                matrix[other] = [a - factor * b for a, b in zip(matrix[other], matrix[column], strict=True)]
    return tuple(matrix[i][size] / matrix[i][i] for i in range(size)) if size else None
