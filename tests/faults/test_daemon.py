"""Faults 9 and 10: the daemon killed at random moments, and its loop blocked."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.daemon.home import ROOT, Home
from tests.faults.conftest import Measure, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

BLOCKED = """
import signal, time
signal.signal(signal.SIGUSR1, lambda *_: time.sleep(120))  # runs in the main thread: the loop stands still
from thermostatd.cli import main
main(prog_name='thermostatd')
"""


@pytest.mark.parametrize(
    "kills",
    [6, pytest.param(100, marks=[pytest.mark.night, pytest.mark.timeout(1800)])],
    ids=["few", "hundred"],
)
def test_killed_at_random(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure, kills: int
) -> None:
    """kill -9 at random moments: OFF within two seconds each time, and no answered request is ever lost."""
    chance, home = random.Random(9), Home(tmp_path / "home", broker.port)
    asked: float | None = None
    slowest = 0.0
    for turn in range(kills):
        home.start()
        try:
            assert wait_until(lambda: home.house()["decided"], 8)
            if asked is not None:
                assert home.house()["rooms"][0]["target"]["celsius"] == asked, f"after kill {turn}"
            broker.publish("study/air", "15.0")
            asked = 16.0 + turn % 7
            assert home.ask(asked)[0] == 200
            time.sleep(chance.random() * 1.5)
        finally:
            began = time.monotonic()
            home.kill()
        assert wait_until(lambda: not plug.on, 5)
        slowest = max(slowest, time.monotonic() - began)
    measure.note(9, f"daemon kill -9, {kills} times: OFF (slowest)", 2.0, slowest)
    assert slowest < 2.0
    assert home.log.count("Traceback") == 0, home.log


@pytest.mark.parametrize(
    "kills",
    [3, pytest.param(100, marks=[pytest.mark.night, pytest.mark.timeout(1800)])],
    ids=["few", "hundred"],
)
def test_killed_while_migrating(tmp_path: Path, measure: Measure, kills: int) -> None:
    """A daemon killed while it brings an old database up to date leaves it old or new, and the next start ends it."""
    from tests.edge.store.conftest import NOON
    from tests.edge.store.test_versions import old_file
    from thermostatd.edge.store import Store

    chance = random.Random(99)
    opening = "import sys; from pathlib import Path; from thermostatd.edge.store import Store\n"
    opening += (
        "print('now', flush=True); Store.open(Path(sys.argv[1]), lambda: 0.0)\nprint('done', flush=True)"
    )
    before = after = 0
    slowest = 0.0
    for turn in range(kills):
        folder = tmp_path / str(turn)
        folder.mkdir()
        old_file(folder / "thermostatd.db")
        child = subprocess.Popen(
            [sys.executable, "-c", opening, str(folder)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert child.stdout
        child.stdout.readline()
        time.sleep(chance.random() * 0.06)
        child.kill()
        child.wait()
        ended = "done" in child.stdout.read()
        before, after = before + (not ended), after + ended
        child.stdout.close()
        began = time.monotonic()
        with_rows = Store.open(folder, lambda: 0.0)
        slowest = max(slowest, time.monotonic() - began)
        try:
            assert with_rows.trace("study", NOON, NOON.replace(hour=13)), "the old database's rows are there"
        finally:
            with_rows.close()
    assert kills < 50 or (before > 5 and after > 5), (
        f"{before} kills before its end, {after} after: move the moments"
    )
    measure.note(9, f"kill -9 while the store is migrated, {kills} times: open again (slowest)", 5.0, slowest)
    assert slowest < 5.0


def test_loop_blocked(
    tmp_path: Path,
    broker: Mosquitto,
    plug: StrangersPlug,
    manager: tuple[str, list[float]],
    measure: Measure,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A loop that stands still pings no watchdog; killed for it (WatchdogSec, here 4 s), the broker tells OFF."""
    path, came = manager
    monkeypatch.setattr("tests.daemon.home.COMMAND", [sys.executable, "-c", BLOCKED])
    with Home(tmp_path / "home", broker.port, env={"NOTIFY_SOCKET": path}) as home:
        warm_up(broker, plug)
        assert wait_until(lambda: len(came) > 2, 8)
        assert home.process
        os.kill(home.process.pid, signal.SIGUSR1)
        time.sleep(1.5)
        last = came[-1]
        measure(
            10, "loop blocked: four seconds without a watchdog ping", 7.0, lambda: time.monotonic() - last > 4
        )
        assert came[-1] == last, "no ping from a loop that stands still"
        home.kill()
        measure(10, "blocked daemon killed by its manager: OFF", 2.0, lambda: not plug.on)
