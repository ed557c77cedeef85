"""A full or read-only disk never stops the house, is said, and mends itself when it ends."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from tests.edge.store.conftest import NOON, Disk, Steady, request, stamp
from thermostatd.edge.store import EventRow, Store, StoreError

Opened = Callable[[Path], Store]
LONG = "x" * 20_000


def _until_refused(store: Store) -> list[int]:
    """Requests until one is refused; the numbers that were acknowledged."""
    acknowledged: list[int] = []
    for number in range(1000):
        try:
            store.commit_request(request(number, LONG), {"last": number}, stamp())
        except StoreError:
            return acknowledged
        acknowledged.append(number)
    raise AssertionError("the disk never became full")


def test_full_disk(disk: Disk, opened: Opened) -> None:
    """On a full disk a request is refused, batches wait, reading goes on; with space again all is written."""
    store = opened(disk.folder)
    store.commit_request(request(5000), {"last": 5000}, stamp())
    disk.fill()
    acknowledged = _until_refused(store)
    assert not store.writing
    assert "full" in store.why_not
    store.add_events([EventRow(NOON, "tick", "study", LONG)])
    store.save_memory({"last": "waiting"}, stamp())
    assert store.flush() is False
    assert {int(row.steady) for row in store.requests(10_000)} == {5000, *acknowledged}
    assert store.forget_device("nobody") is False
    assert not store.writing  # nothing had to be written, so nothing was proven

    disk.free()
    assert store.flush() is True
    assert store.writing
    assert store.why_not == ""
    assert len(store.events(NOON, 10)) == 1
    store.commit_request(request(6000), {"last": 6000}, stamp())
    assert any("does not write" in note for note in store.notes)
    assert store.notes[-1] == "The store writes again."


def test_full_disk_mends_without_being_asked(disk: Disk, opened: Opened, steady: Steady) -> None:
    """What waited is written by the next addition that finds thirty steady seconds gone."""
    store = opened(disk.folder)
    disk.fill()
    _until_refused(store)
    store.add_events([EventRow(NOON, "tick", "study", LONG)])
    assert store.flush() is False
    disk.free()
    steady.seconds += 31.0
    store.add_events([EventRow(NOON, "tock", "study", "x")])
    store.load_memory()  # the queue is in order: whatever was due is done
    assert store.writing
    assert [row.code for row in store.events(NOON, 10)] == ["tock", "tick"]


def test_a_new_house_on_a_full_disk(disk: Disk, opened: Opened) -> None:
    """With no space for even a new database the store opens, answers emptily, and begins when there is space."""
    disk.fill()
    store = opened(disk.folder)
    assert not store.writing
    assert store.load_memory() is None
    assert store.requests(5) == []
    with pytest.raises(StoreError):
        store.add_device("hash", "phone", "household")
    disk.free()
    store.add_device("hash", "phone", "household")
    assert [device.name for device in store.devices()] == ["phone"]
    assert store.writing


def _die_with_a_log(folder: Path) -> None:
    """A child commits a request and is killed, so that its newest rows are only in the log."""
    child = os.fork()
    if child == 0:
        try:
            Store.open(folder, Steady()).commit_request(request(7), {"latched": True}, stamp())
        finally:
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert (folder / "thermostatd.db-wal").stat().st_size > 0


@pytest.mark.parametrize("trouble", ["full", "read-only"])
def test_memory_comes_back_from_a_disk_that_cannot_be_written(
    disk: Disk, opened: Opened, trouble: str
) -> None:
    """After a kill, with the disk full or read-only at the next start, memory and requests are still read."""
    _die_with_a_log(disk.folder)
    (disk.folder / "thermostatd.db-shm").unlink()
    if trouble == "full":
        disk.fill()
    else:
        disk.remount("ro")
    store = opened(disk.folder)
    memory = store.load_memory()
    assert memory is not None
    assert memory[0] == {"latched": True}
    assert [int(row.steady) for row in store.requests(5)] == [7]
    assert not store.writing
    with pytest.raises(StoreError):
        store.commit_request(request(8), {}, stamp())

    if trouble == "full":
        disk.free()
    else:
        disk.remount("rw")
    store.commit_request(request(9), {"latched": False}, stamp())
    assert store.writing
    assert [int(row.steady) for row in store.requests(5)] == [9, 7]


def test_read_only_after_a_clean_end(disk: Disk, opened: Opened) -> None:
    """A read-only folder is said with its mend, and what was stored is read."""
    first = opened(disk.folder)
    first.add_events([EventRow(NOON, "tick", "study", "x")])
    first.close()
    disk.remount("ro")
    store = opened(disk.folder)
    assert len(store.events(NOON - timedelta(hours=1), 5)) == 1
    assert not store.writing
    assert store.why_not
    store.close()
    disk.remount("rw")


def test_a_file_that_was_removed_while_in_use(tmp_path: Path, opened: Opened) -> None:
    """A database removed under the running store is begun anew with memory and devices, and a request is durable."""
    store = opened(tmp_path)
    store.add_device("hash", "phone", "household", added=NOON)
    store.commit_request(request(1), {"last": 1}, stamp())
    for tail in ("", "-wal", "-shm"):
        (tmp_path / f"thermostatd.db{tail}").unlink(missing_ok=True)
    store.commit_request(request(2), {"last": 2}, stamp())
    assert any("removed or exchanged" in note for note in store.notes)
    store.close()
    again = opened(tmp_path)
    assert [int(row.steady) for row in again.requests(5)] == [2]
    assert [device.name for device in again.devices()] == ["phone"]
