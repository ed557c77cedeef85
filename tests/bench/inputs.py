"""What keeping a day's inputs for `replay` costs on the disk: bytes a room, a day and a fortnight. Run it:
    python -m tests.bench.inputs
A simulated day of ten-second ticks, a sensor and a meter each room, with the odd milliseconds of a real clock added.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from tests.daemon.recorded_day import house
from thermostatd.core.reasons import reason
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Order, Result
from thermostatd.core.values import Moment, Observation, PlugReport, Reading
from thermostatd.daemon.recorded import KEEP_DAYS, Recorded
from thermostatd.edge.store import Store
from thermostatd.rehearsal import MeterTraits, SimulatedHouse

START = datetime(2026, 1, 12, 23, tzinfo=UTC)
BUDGET_BYTES = 5_000_000
METER = MeterTraits(period_seconds=10.0, step_watts=0.1)


@dataclass(frozen=True)
class Cost:
    """Bytes a room and day, parts written a day, and bytes of the whole database file."""

    bytes_a_day: float
    parts: int
    file_bytes: int

    @property
    def fortnight_bytes(self) -> float:
        """What a room takes in the days that are kept."""
        return KEEP_DAYS * self.bytes_a_day


def measure() -> Cost:
    """A day of two rooms."""
    described, rng = house(), Random("inputs")
    simulated = SimulatedHouse(
        described, seed=4, start=START, meters={k: METER for k, _, _ in described.heaters()}
    )
    regulator = Regulator(described)
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder), lambda: simulated.steady)
        recorded = Recorded(described, store)
        why = reason("warm-enough")
        for index in range(8640):
            jitter = rng.uniform(0.0, 0.05)
            was, seen = simulated.moment(), _jittered(simulated.observation(), rng)
            moment, seen = recorded.rounded(
                Moment(was.wall + timedelta(seconds=jitter), was.steady + jitter), seen
            )
            recorded.begin(moment, regulator)
            orders = {
                key: Order((index // 60) % 2 == 0, why, moment.steady + 1200.0) for key in simulated.plugs
            }
            recorded.step(moment, seen, cast(Result, SimpleNamespace(orders=orders)))
            for key, order in orders.items():
                simulated.tell(key, order.on, 1200.0)
            simulated.advance(10.0)
        recorded.end()
        store.close()
        path = Path(folder) / "thermostatd.db"
        with closing(sqlite3.connect(path)) as database:
            total, parts = database.execute("SELECT sum(length(body)), count(*) FROM input").fetchone()
        return Cost(total / len(described.rooms), parts, path.stat().st_size)


def _jittered(seen: Observation, rng: Random) -> Observation:
    """The same with times and values that no two messages share to the millisecond."""

    def late(at: float | None) -> float | None:
        return None if at is None else at - rng.uniform(0.0, 0.9)

    air: Mapping[str, Any] = {
        room: Reading(one.celsius + rng.uniform(-0.005, 0.005), late(one.at))
        for room, one in seen.air.items()
        if isinstance(one, Reading)
    }
    plugs: Mapping[str, PlugReport] = {
        key: replace(one, on_at=late(one.on_at), watts_at=late(one.watts_at), warm_at=late(one.warm_at))
        for key, one in seen.plugs.items()
    }
    return replace(seen, air=air, plugs=plugs)


def main() -> None:
    """Print it."""
    cost = measure()
    kept = f"{KEEP_DAYS} days {cost.fortnight_bytes / 1e6:.2f} MB a room (budget {BUDGET_BYTES / 1e6:.0f} MB)"
    print(f"{cost.bytes_a_day / 1000:.0f} kB a room and day in {cost.parts} parts; {kept}")


if __name__ == "__main__":
    main()
