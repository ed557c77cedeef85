"""Fault 15: a year in one process, at speed. Memory, open files and threads stay flat; the record keeps its budget.

Rules: the Regulator, the record and the real store as the daemon joins them, on a simulated house of two rooms; a
step a minute; the night's upkeep each night; what the process wrote is the kernel's own count (/proc/self/io).
"""

from __future__ import annotations

import gc
import os
import resource
import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.daemon.recorded_day import house
from thermostatd.core.learning import History
from thermostatd.core.regulator import Regulator
from thermostatd.daemon.observed import rounded
from thermostatd.daemon.recorded import Recorded
from thermostatd.daemon.recording import Recording
from thermostatd.daemon.running import BACKUPS, KEEP_EVENTS_DAYS, KEEP_INPUTS_DAYS, KEEP_MINUTES_DAYS
from thermostatd.edge.store import Stamp, Store
from thermostatd.rehearsal import SimulatedHouse
from thermostatd.rehearsal.nature import ColdSpell

START = datetime(2025, 10, 1, tzinfo=UTC)  # invented
ROOMS = 2
MIB = 1024 * 1024


class Life:
    """The house, the Regulator and the store, and how many days went by."""

    def __init__(self, state: Path) -> None:
        self.house = house()
        weather = ColdSpell(15, START, mean_celsius=4.0)
        self.simulated = SimulatedHouse(self.house, seed=15, start=START, weather=weather)
        self.state, self.store = state, Store.open(state, lambda: self.simulated.steady)
        self.regulator, self.history = Regulator(self.house), History(self.house)
        self.recording = Recording(self.house, self.store)
        self.recorded = Recorded(self.house, self.store)

    def day(self) -> None:
        """Twenty-four hours, then the night's upkeep."""
        for _ in range(1440):
            moment, seen = rounded(self.simulated.moment(), self.simulated.observation())
            self.recorded.begin(moment, self.regulator)
            result = self.regulator.step(moment, seen)
            self.recorded.step(moment, seen, result)
            self.recording.take(moment, result)
            self.history.add(moment, seen, result)
            for key, order in result.orders.items():
                self.simulated.tell(key, order.on, max(order.lapses - moment.steady, 0.0))
            self.simulated.advance(60.0)
        stamp = Stamp("boot-a", 0.0, moment.steady, moment.wall.isoformat())
        self.store.save_memory(self.regulator.memory, stamp)
        self._upkeep(moment.wall)

    def _upkeep(self, now: datetime) -> None:
        backups = self.state / "backups"
        backups.mkdir(exist_ok=True)
        self.store.thin(now - timedelta(days=KEEP_MINUTES_DAYS))
        self.store.prune(now - timedelta(days=KEEP_EVENTS_DAYS))
        self.store.forget_inputs(now - timedelta(days=KEEP_INPUTS_DAYS))
        self.store.backup(backups / f"thermostatd-{now.toordinal() % BACKUPS}.db")

    def measures(self) -> dict[str, float]:
        """Resident MiB, open files, threads, database MiB, MiB written so far (as the kernel counts)."""
        gc.collect()
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        told = dict(line.split(": ") for line in Path("/proc/self/io").read_text().splitlines())
        return {
            "resident": pages * resource.getpagesize() / MIB,
            "files": len(os.listdir("/proc/self/fd")),
            "threads": threading.active_count(),
            "database": sum(file.stat().st_size for file in self.state.glob("thermostatd.db*")) / MIB,
            "written": int(told["write_bytes"]) / MIB,
        }


@pytest.mark.night
@pytest.mark.timeout(3600)
def test_a_year(tmp_path: Path) -> None:
    """From the second to the twelfth month nothing grows but the record, and that stays in its budget."""
    life, table = Life(tmp_path / "state"), []
    try:
        for day in range(1, 366):
            life.day()
            if day in (61, 122, 183, 244, 305, 365):
                table.append({"day": day} | life.measures())
                print("  ".join(f"{name} {value:8.2f}" for name, value in table[-1].items()))
    finally:
        life.store.close()
    first, last = table[0], table[-1]
    assert last["resident"] <= first["resident"] * 1.05 + 2.0
    assert last["files"] <= first["files"]
    assert last["threads"] <= first["threads"]
    assert last["database"] <= ROOMS * (6.0 + 5.0), "6 MB a room-year and 5 MB a room"
    per_day = (last["written"] - first["written"]) / (365 - 61)
    backup = last["database"]
    print(f"written {per_day:.1f} MiB a day, of which a backup is {backup:.1f}")
    assert per_day - backup < 30.0
    _backup_is_whole(tmp_path / "state")


def _backup_is_whole(state: Path) -> None:
    """The newest backup, put in an empty folder, opens as a store with the year's rows and memory."""
    newest = max((state / "backups").glob("*.db"), key=lambda file: file.stat().st_mtime)
    restored = state / "restored"
    restored.mkdir()
    (restored / "thermostatd.db").write_bytes(newest.read_bytes())
    with closing(sqlite3.connect(restored / "thermostatd.db")) as other:
        assert other.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    store = Store.open(restored, lambda: 0.0)
    try:
        assert len(store.trace("study", START + timedelta(days=100), START + timedelta(days=101))) > 90
        assert store.load_memory() is not None
    finally:
        store.close()
