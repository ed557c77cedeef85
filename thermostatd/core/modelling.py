"""From a room's record to its model: fitted, held against the one in use on hours not fitted on, or refused.

Rules: a record that tells too little gives no thermal part; a new one replaces the old only where it forecasts the
held-out hours better; every number carries its uncertainty. Part of the slow work: it imports numpy.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from thermostatd.core.house import Room
from thermostatd.physics.heater_kinds import MAKES
from thermostatd.physics.identify import first_order
from thermostatd.physics.thermal.learned import Judged, learn
from thermostatd.physics.thermal.record import Record

if TYPE_CHECKING:
    from thermostatd.core.learning import RoomHistory

STEP_MINUTES = 2
FIVE_MINUTES = 5


def model_of(
    room: Room, rooms: int, kept: RoomHistory, clock_minutes: float, before: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """What a room's record tells, JSON-able; None where it tells nothing."""
    watts = sum(heater.watts for heater in room.heaters)
    if not watts or len(kept) < 60:
        return None
    first = _first_order(kept, watts)
    old = (before or {}).get("thermal")
    judged = learn(record_of(room, kept, clock_minutes), heater_seconds(room), rooms > 1, old)
    if judged is None and first is None:
        return dict(before) if before else None
    model: dict[str, Any] = dict(first or _equal(judged, watts))
    if judged is not None:
        ended = 60.0 * (kept.first + STEP_MINUTES * (len(kept) // STEP_MINUTES))
        model["thermal"] = {**judged.plain, "at": ended}
    elif old is not None:
        model["thermal"] = dict(old)
    return model


def record_of(room: Room, kept: RoomHistory, clock_minutes: float) -> Record:
    """A room's minutes as even steps."""
    count = len(kept) // STEP_MINUTES
    table = {
        name: np.array(values, dtype=np.float64)[: count * STEP_MINUTES].reshape(count, STEP_MINUTES)
        for name, values in kept.columns.items()
    }
    celsius = _last_heard(table["celsius"])
    inputs = np.zeros((count, 4))
    inputs[:, 0] = table["watts"].mean(axis=1)
    inputs[:, 1] = table["outdoor"].mean(axis=1)
    around = table["neighbours"].mean(axis=1)
    known = np.isfinite(around)
    inputs[:, 2] = np.where(known, around, np.mean(around[known]) if known.any() else 20.0)
    return Record(
        STEP_MINUTES,
        celsius,
        inputs,
        sum(heater.watts for heater in room.heaters),
        sensor_step(celsius),
        (clock_minutes + kept.first) % 1440.0,
    )


def _last_heard(pairs: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """The reading nearest to the end of each step; NaN where none came."""
    out = pairs[:, 0].copy()
    for column in range(1, pairs.shape[1]):
        out = np.where(np.isfinite(pairs[:, column]), pairs[:, column], out)
    return out


def sensor_step(celsius: np.ndarray[Any, Any]) -> float:
    """The step in which a sensor speaks, K: what most of its moves are, at least."""
    heard = celsius[np.isfinite(celsius)]
    moves = np.abs(np.diff(heard))
    moves = moves[moves > 0.005]
    if len(moves) < 10:
        return 0.1
    return float(np.clip(np.quantile(moves, 0.2), 0.01, 1.0))


def heater_seconds(room: Room) -> float:
    """The time constant that such heaters usually have, s: body over what it sheds more per kelvin (n = 1.3)."""
    total = sum(heater.watts for heater in room.heaters)
    makes = [(heater.watts / total, MAKES[heater.kind]) for heater in room.heaters]
    return sum(
        share * max(60.0, make.joules_per_kelvin_watt * make.rise_kelvin / 1.3) for share, make in makes
    )


def _first_order(kept: RoomHistory, watts: float) -> dict[str, Any] | None:
    """The first-order model of the longest even stretch of five-minute means."""
    rows = kept.five_minute_means(watts)
    learned = first_order(
        [r[0] for r in rows], [r[1] for r in rows], [r[2] for r in rows], 60.0 * FIVE_MINUTES
    )
    if learned is None:
        return None
    return {
        "gain_kelvin": round(learned.gain_kelvin, 3),
        "tau_seconds": round(learned.tau_seconds, 1),
        "dead_seconds": round(learned.dead_seconds, 1),
        "residual_kelvin": round(learned.residual_kelvin, 4),
        "steps": len(rows),
    }


def _equal(judged: Judged | None, watts: float) -> dict[str, Any]:
    """A first-order model that answers much as the thermal one does."""
    assert judged is not None
    constants = judged.constants
    return {
        "gain_kelvin": round(watts / constants.loss_watts_per_kelvin, 3),
        "tau_seconds": round(constants.settling_seconds, 1),
        "dead_seconds": round(constants.heater_seconds + constants.sensor_seconds, 1),
    }
