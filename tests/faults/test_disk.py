"""Fault 12: a state folder that is full, read-only or rubbish, under the whole daemon."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.edge.store.conftest import Disk
from tests.faults.conftest import Measure, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Disk]:
    """A real file system of 1 MiB as the state folder."""
    folder = tmp_path / "home" / "state"
    folder.mkdir(parents=True)
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)], check=False)
    if made.returncode:
        pytest.skip("mounting needs root")
    yield Disk(folder)
    subprocess.run(["umount", "-l", str(folder)], check=True)


def test_full(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, small: Disk, measure: Measure) -> None:
    """A full disk stops no heat and no ask; health and the answer say it; with space again all is written, unasked."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, plug)
        assert home.ask(21.0)[0] == 200
        small.fill()
        measure(12, "disk full: an ask cannot be written, and is told so", 8.0, lambda: _unwritten(home))
        assert home.health()["ok"] is False
        broker.publish("study/air", "23.0")
        measure(12, "disk full: a warm reading ends in OFF", 4.0, lambda: not plug.on)
        small.free()
        measure(12, "disk free again: healthy", 45.0, lambda: home.health().get("ok"))
        assert home.ask(19.0)[0] == 200
    with Home(tmp_path / "home", broker.port) as again:
        assert wait_until(lambda: again.house()["decided"], 8)
        assert again.house()["rooms"][0]["target"]["celsius"] == 19.0


def _unwritten(home: Home) -> bool:
    """An ask that was decided, but not written down, and says so."""
    status, answer = home.ask(20.5)
    time.sleep(0.3)
    assert status < 500 or "sentence" in str(answer), answer
    return "written" in str(answer)


def test_read_only(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, small: Disk, measure: Measure
) -> None:
    """A read-only folder at the start costs the record, not the heat; writable again, it records, unasked."""
    small.remount("ro")
    try:
        with Home(tmp_path / "home", broker.port) as home:
            warm_up(broker, plug)
            assert home.health()["ok"] is False
            broker.publish("study/air", "23.0")
            measure(12, "disk read-only: a warm reading ends in OFF", 4.0, lambda: not plug.on)
            small.remount("rw")
            measure(12, "disk writable again: healthy", 45.0, lambda: home.health().get("ok"))
    finally:
        small.remount("rw")


def test_rubbish(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure) -> None:
    """Rubbish in the database's place is moved aside, said once, and the house heats."""
    state = tmp_path / "home" / "state"
    with Home(tmp_path / "home", broker.port):
        pass
    for file in state.glob("*.db*"):
        file.write_bytes(b"\xff\x00 not a database " * 4000)
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, plug)
        measure(12, "corrupt database: healthy with a new one", 8.0, lambda: home.health().get("ok"))
        assert "damaged" in home.log
        assert list(state.glob("*.damaged-*")), "it was moved aside, not deleted"
