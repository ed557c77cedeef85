"""Join codes are taken once; devices can be listed, renamed and forgotten."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

from tests.edge.store.conftest import NOON
from thermostatd.edge.store import CodeRow, Store

Opened = Callable[[Path], Store]
TEN_MINUTES = timedelta(minutes=10)


def test_a_code_is_taken_once(tmp_path: Path, opened: Opened) -> None:
    """Of twenty that take one code at the same time exactly one gets it."""
    store = opened(tmp_path)
    store.add_code("hash", "household", NOON + TEN_MINUTES, "Ana's phone")
    with ThreadPoolExecutor(8) as pool:
        taken = list(pool.map(lambda _: store.take_code("hash", NOON), range(20)))
    assert [row for row in taken if row] == [CodeRow("hash", "household", NOON + TEN_MINUTES, "Ana's phone")]


def test_a_code_expires(tmp_path: Path, opened: Opened) -> None:
    """At its end a code is gone, even if the wall is set back afterwards."""
    store = opened(tmp_path)
    store.add_code("hash", "household", NOON, "x")
    assert store.take_code("hash", NOON) is None
    assert store.take_code("hash", NOON - TEN_MINUTES) is None


def test_a_taken_code_stays_taken(tmp_path: Path, opened: Opened) -> None:
    """A restart does not bring a taken code back."""
    store = opened(tmp_path)
    store.add_code("hash", "owner", NOON + TEN_MINUTES, "x")
    assert store.take_code("hash", NOON) is not None
    store.close()
    assert opened(tmp_path).take_code("hash", NOON) is None


def test_devices(tmp_path: Path, opened: Opened) -> None:
    """Devices are kept over a restart with their last visit, renamed, and forgotten for good."""
    store = opened(tmp_path)
    store.add_device("a", "phone", "household", added=NOON)
    store.add_device("b", "tablet", "owner", NOON + TEN_MINUTES, added=NOON + TEN_MINUTES)
    assert store.rename_device("a", "Ana's phone")
    assert not store.rename_device("zzz", "x")
    store.touch_device("a", NOON + TEN_MINUTES)
    store.close()
    again = opened(tmp_path)
    first, second = again.devices()
    assert (first.name, first.role, first.until, first.seen) == (
        "Ana's phone",
        "household",
        None,
        NOON + TEN_MINUTES,
    )
    assert (second.id_hash, second.until) == ("b", NOON + TEN_MINUTES)
    assert again.forget_device("a")
    assert not again.forget_device("a")
    assert again.device("a") is None
    again.close()
    assert [device.id_hash for device in opened(tmp_path).devices()] == ["b"]


def test_a_guests_room_and_end_come_back(tmp_path: Path, opened: Opened) -> None:
    """A code keeps the guest's one room and last moment; so does the phone that joins by it."""
    store = opened(tmp_path)
    until = NOON + TEN_MINUTES
    store.add_code("hash", "room-guest", until, "", room="study", until=until)
    row = store.take_code("hash", NOON)
    assert row is not None
    assert (row.role, row.room, row.until) == ("room-guest", "study", until)
    store.add_device("a", "Eve", "room-guest", until, added=NOON, room="study")
    kept = store.device("a")
    assert kept is not None
    assert (kept.room, kept.until) == ("study", until)
