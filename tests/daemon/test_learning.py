"""Learning in a process of its own, and a history that a restart does not lose."""

from __future__ import annotations

import asyncio
import math
import os
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from tests.daemon.recorded_day import START, house
from thermostatd.core.learning import History, fit
from thermostatd.core.regulator import Regulator
from thermostatd.daemon.learning import KeptHistory, LearningError, learn
from thermostatd.edge.store import Store
from thermostatd.rehearsal import SimulatedHouse
from thermostatd.rehearsal.run import run


@pytest.fixture(scope="module")
def lived() -> History:
    """A day and a half of an invented house."""
    described = house()
    history = History(described)
    run(
        described,
        Regulator(described),
        SimulatedHouse(described, seed=5, start=START),
        hours=36,
        tick_seconds=60.0,
        on_tick=lambda moment, seen, result, _: history.add(moment, seen, result),
    )
    return history


def resident_kib() -> int:
    """What this process holds, kB (proc(5))."""
    text = Path("/proc/self/status").read_text()
    return int(text.partition("VmRSS:")[2].split()[0])


def test_the_child_learns_what_fit_learns_here(lived: History) -> None:
    """The models come back over the pipe as `fit` made them, and this process has not grown by the arithmetic."""
    described = house()
    before = resident_kib()
    found = asyncio.run(learn(described, lived, {}))
    assert resident_kib() - before < 12_000
    assert found, "a day and a half of a simulated house tells a model"
    here = fit(described, History.from_plain(described, lived.to_plain()), {})
    assert found.keys() == here.keys()
    for name, model in found.items():
        assert model["tau_seconds"] == pytest.approx(here[name]["tau_seconds"], rel=1e-6)
    Regulator(described).adopt(found)


@pytest.mark.parametrize(
    ("program", "why"),
    [
        ("import sys; sys.exit('broken on purpose')", "broken on purpose"),
        ("import os; os.abort()", "ended with -6"),
        ("print('[1]')", "no answer"),
        ("print('{')", "no answer"),
        ("import time; time.sleep(60)", "longer than 1 s"),
    ],
)
def test_a_child_that_fails_says_why(lived: History, program: str, why: str) -> None:
    """A crash, a hang and nonsense each end in one error, within the time allowed, and leave no process behind."""
    with pytest.raises(LearningError, match=why):
        asyncio.run(learn(house(), lived, {}, command=(sys.executable, "-c", program), seconds=1.0))
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def test_history_survives_a_restart(lived: History, tmp_path: Path) -> None:
    """What was kept comes back to the last minute, under the memory of a kill too: it lies in the store."""
    described, moment = house(), SimulatedHouse(house(), seed=1, start=START).moment()
    store = Store.open(tmp_path, lambda: 0.0)
    kept = KeptHistory(described, store)
    kept.history = lived
    assert not kept.due(moment)
    assert kept.due(type(moment)(moment.wall, moment.steady + 6 * 3600.0))
    kept.keep(moment)
    store.close()
    store = Store.open(tmp_path, lambda: 0.0)
    again = KeptHistory(described, store).history
    store.close()
    assert again.to_plain() == lived.to_plain()
    for name, room in again.rooms.items():
        assert len(room) > 36 * 60 - 5, name


def test_a_history_that_cannot_be_read_begins_anew(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Damage costs what was learned by, and nothing else."""
    store = Store.open(tmp_path, lambda: 0.0)
    store.keep_learning(START, b"no such thing")
    try:
        assert not any(len(room) for room in KeptHistory(house(), store).history.rooms.values())
    finally:
        store.close()
    assert "begins anew" in caplog.text


def test_six_days_of_ten_rooms_are_small(lived: History) -> None:
    """What is written every six hours stays under 100 kB a room."""
    from thermostatd.daemon.recorded import packed

    days = 1.5
    each = len(packed(lived.to_plain())) / len(lived.rooms) * 6.0 / days
    assert math.isfinite(each)
    assert each < 100_000, f"{each:.0f} bytes a room"


def test_the_record_goes_on_after_a_steady_clock_that_was_lost(lived: History) -> None:
    """A clock that begins anew at zero neither stops the history nor breaks it."""
    described = house()
    history = History.from_plain(described, lived.to_plain())
    run(
        described,
        Regulator(described),
        SimulatedHouse(described, seed=5, start=START + timedelta(days=3)),
        hours=2,
        tick_seconds=60.0,
        on_tick=lambda moment, seen, result, _: history.add(moment, seen, result),
    )
    again = History.from_plain(described, history.to_plain())
    assert all(len(room) >= 60 for room in again.rooms.values())
