"""What the demo's house has lived before anybody looks, and a fast house's own nights."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.stories.teller import COLUMN, house_of, study
from thermostatd.core.learning import History
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import from_plain
from thermostatd.daemon import running
from thermostatd.daemon.demo_days import live
from thermostatd.daemon.recorded import unpacked
from thermostatd.edge.clock import Clock
from thermostatd.edge.store import Store
from thermostatd.rehearsal.house import SimulatedHouse

BEGUN = datetime(2026, 1, 12, tzinfo=UTC)
HOURS = 29.0


def test_a_day_and_a_night_leave_what_a_daemon_leaves(tmp_path: Path) -> None:
    """A record of each minute, what learning goes by, a model of the room, and a memory to go on from."""
    house = house_of(study(room='control = "predictive"'))
    simulated = SimulatedHouse(house, seed=3, start=BEGUN, start_celsius=16.0, inner_seconds=60.0)
    now = BEGUN + timedelta(hours=HOURS)
    live(house, simulated, tmp_path, Clock(start_wall=now, base_steady=HOURS * 3600.0), HOURS * 3600.0)
    assert simulated.moment().wall == now
    store = Store.open(tmp_path, Clock().now)
    try:
        minutes = store.trace("study", BEGUN, now)
        assert len(minutes) == pytest.approx(HOURS * 60.0, abs=2)
        assert sum(row.on_seconds for row in store.heater_trace(COLUMN, BEGUN, now)) > 3600
        memory, stamp = store.load_memory()
        assert stamp.steady == pytest.approx(HOURS * 3600.0, abs=60.0)
        assert datetime.fromisoformat(stamp.wall_iso) - now < timedelta(minutes=1)
        thermal = from_plain(memory).models["study"]["thermal"]
        assert thermal["hours"] > 24.0
        history = History.from_plain(house, unpacked(store.load_learning()))
        assert history.models["study"]["thermal"]["hours"] == thermal["hours"]
    finally:
        store.close()
    assert Regulator(house, memory).operations()[COLUMN] > 2


def test_a_house_that_lives_faster_has_its_own_nights(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Learning comes at 03:40 of its own clock, once a night, however fast that goes by."""
    told: list[datetime] = []
    house = house_of(study(zone="Europe/Oslo"))
    clock = Clock(86400.0, start_wall=datetime(2026, 1, 12, 2, 0, tzinfo=UTC))  # 03:00 in Oslo; a day is a second
    service = SimpleNamespace(clock=clock, house=house)

    async def night(*_: object) -> None:
        told.append(clock.moment().wall)

    async def live_three_days() -> None:
        end = running._nights(service, tmp_path)
        await asyncio.sleep(2.6)
        end()

    monkeypatch.setattr(running, "_night", night)
    asyncio.run(live_three_days())
    assert [one.day for one in told] == [12, 13, 14]
    assert all((one.hour, one.minute) >= (2, 40) for one in told)


def test_a_house_goes_finer_and_never_coarser() -> None:
    """After the days that went by fast it lives by ten seconds again."""
    simulated = SimulatedHouse(house_of(study()), seed=3, start=BEGUN, inner_seconds=60.0)
    steps: list[float] = []
    step = simulated._step
    simulated._step = lambda seconds: (steps.append(seconds), step(seconds))[1]  # type: ignore[method-assign]
    simulated.advance(60.0)
    simulated.go_finer(10.0)
    simulated.advance(60.0)
    simulated.go_finer(60.0)
    simulated.advance(20.0)
    assert steps == [60.0, *[10.0] * 8]
