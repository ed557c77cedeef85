"""What the store keeps of a minute: what held in it, not in the next."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from tests.edge.pages.double import house_of
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Moment, Observation, Reading
from thermostatd.daemon.recording import Recording
from thermostatd.edge.store import Store


def test_a_step_of_the_week_stands_in_the_minute_of_its_time(tmp_path: Path) -> None:
    """22:30 asks for 18 °C: the minute of 22:29 still has what was wanted in it."""
    house = house_of()
    start = datetime(2026, 1, 12, 22, 28, tzinfo=ZoneInfo(house.house.timezone)).astimezone(UTC)
    store = Store.open(tmp_path, lambda: 0.0)
    recording, regulator = Recording(house, store), Regulator(house)
    for second in range(0, 241, 10):
        moment = Moment(start + timedelta(seconds=second), float(second))
        recording.take(moment, regulator.step(moment, Observation(air={"long room": Reading(19.0)})))
    store.soon.flush()
    rows = store.trace("long room", start - timedelta(hours=1), start + timedelta(hours=1))
    store.close()
    assert [(row.minute - int(start.timestamp() // 60), row.target) for row in rows] == [
        (0, 20.5), (1, 20.5), (2, 18.0), (3, 18.0),
    ]  # fmt: skip
