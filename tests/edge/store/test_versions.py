"""Older databases are brought up, newer ones refused, damaged ones moved aside and replaced."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.edge.store.conftest import NOON, request, stamp
from thermostatd.edge.store import EventRow, Store, StoreError, opening

Opened = Callable[[Path], Store]


def old_file(path: Path) -> None:
    """A database as the first version left it, with one request and one minute."""
    with closing(sqlite3.connect(path)) as old:
        number, script = opening.migrations()[0]
        old.executescript(script)
        old.execute(f"PRAGMA user_version = {number:d}")
        old.execute("INSERT INTO name (words) VALUES ('study'), ('usual')")
        minute = int(NOON.timestamp()) // 60
        old.execute("INSERT INTO minute VALUES (?, 1, 1950, 2000, NULL, 2)", (minute,))
        old.commit()


def test_old_database_is_migrated(tmp_path: Path, opened: Opened) -> None:
    """A database of version 1 comes to the newest version with its rows."""
    old_file(tmp_path / "thermostatd.db")
    store = opened(tmp_path)
    row = store.trace("study", NOON, NOON.replace(hour=13))[0]
    assert (row.air, row.target, row.outdoor, row.whose) == (19.5, 20.0, None, "usual")
    assert store.thin(NOON.replace(hour=13)) == 1
    store.close()
    with closing(sqlite3.connect(tmp_path / "thermostatd.db")) as other:
        assert other.execute("PRAGMA user_version").fetchone()[0] == opening.newest_version() >= 2


def test_a_migration_is_whole_or_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A script that fails half-way leaves neither its tables nor its number."""
    good = opening.migrations()
    broken = [*good, (99, "CREATE TABLE half (x); CREATE TABLE half (x);")]
    connection = sqlite3.connect(tmp_path / "a.db", isolation_level=None)
    opening.migrate(connection, 0)
    monkeypatch.setattr(opening, "migrations", lambda: broken)
    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        opening.migrate(connection, good[-1][0])
    assert connection.execute("PRAGMA user_version").fetchone()[0] == good[-1][0]
    assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone()[0] == 0
    connection.close()


def test_newer_database_is_refused_untouched(tmp_path: Path, opened: Opened) -> None:
    """A database of a newer program is refused with the mend, and not one byte of it changes."""
    opened(tmp_path).close()
    path = tmp_path / "thermostatd.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA user_version = 999")
    before = path.read_bytes()
    with pytest.raises(StoreError, match=r"version 999.*newer program"):
        opened(tmp_path)
    assert path.read_bytes() == before
    assert sorted(each.name for each in tmp_path.iterdir()) == ["thermostatd.db", "thermostatd.lock"]


def test_a_second_daemon_is_refused(tmp_path: Path, opened: Opened) -> None:
    """Two daemons never share a state folder; when the first ends the second may."""
    first = opened(tmp_path)
    with pytest.raises(StoreError, match="another thermostatd"):
        opened(tmp_path)
    first.close()
    assert opened(tmp_path).writing


def _aside(folder: Path) -> list[Path]:
    return [
        each for each in folder.glob("thermostatd.db.damaged-*") if not each.name.endswith(("-wal", "-shm"))
    ]


@pytest.mark.parametrize(
    "content", [b"this is no database at all" * 400, b"SQLite format 3\x00" + b"\xff" * 9000]
)
def test_a_file_that_is_no_database(tmp_path: Path, opened: Opened, content: bytes) -> None:
    """Rubbish in the database's place is moved aside under a name with the time, a new one begins, it is said once."""
    (tmp_path / "thermostatd.db").write_bytes(content)
    store = opened(tmp_path)
    assert store.writing
    assert [each.read_bytes() for each in _aside(tmp_path)] == [content]
    assert len(store.notes) == 1
    assert "damaged" in store.notes[0]
    store.commit_request(request(1), {"last": 1}, stamp())
    store.close()
    again = opened(tmp_path)
    assert again.notes == ()
    assert len(again.requests(5)) == 1


def _filled(store: Store) -> None:
    store.add_device("hash", "phone", "household", added=NOON)
    store.commit_request(request(1), {"latched": ["drawing-while-off"]}, stamp())
    store.add_events([EventRow(NOON, "tick", "study", f"event {n} " + "x" * 200) for n in range(2000)])
    assert store.flush()


def _spoil(path: Path) -> None:
    """Overwrite the later half of the file, where the events are."""
    size = path.stat().st_size
    with path.open("rb+") as file:
        file.seek(size // 2 // 4096 * 4096)
        file.write(b"\xa5" * (size // 2))


def test_damaged_pages_at_start(tmp_path: Path, opened: Opened) -> None:
    """A database damaged in its events is replaced; memory (with its latches) and devices are carried over."""
    first = opened(tmp_path)
    _filled(first)
    first.close()
    _spoil(tmp_path / "thermostatd.db")
    store = opened(tmp_path)
    memory = store.load_memory()
    assert memory == ({"latched": ["drawing-while-off"]}, stamp())
    assert [device.name for device in store.devices()] == ["phone"]
    assert "carried over" in store.notes[0]
    assert len(_aside(tmp_path)) == 1


def test_damaged_pages_while_running(tmp_path: Path, opened: Opened) -> None:
    """Damage met while running does the same, without a restart, and the next request is durable."""
    first = opened(tmp_path)
    _filled(first)
    first.close()
    store = opened(tmp_path)
    _spoil(tmp_path / "thermostatd.db")
    store._writer.later(lambda desk: desk.book._connection.execute("PRAGMA shrink_memory")).result()
    store.events(NOON, 10_000)
    assert "damaged" in store.notes[0]
    memory = store.load_memory()
    assert memory is not None
    assert memory[0] == {"latched": ["drawing-while-off"]}
    store.commit_request(request(2), {"last": 2}, stamp())
    assert [device.name for device in store.devices()] == ["phone"]
    store.close()
    assert [int(row.steady) for row in opened(tmp_path).requests(5)] == [2]


def test_a_version_that_cannot_be(tmp_path: Path, opened: Opened) -> None:
    """A sound file with an impossible version is no newer program's: it is moved aside, not refused for ever."""
    opened(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "thermostatd.db")) as other:
        other.execute("PRAGMA user_version = 70000")
    store = opened(tmp_path)
    assert store.writing
    assert len(_aside(tmp_path)) == 1


def test_memory_is_small_and_an_older_one_is_read(tmp_path: Path, opened: Opened) -> None:
    """Memory takes a third of its JSON on the disk; what an older program wrote as text is read all the same."""
    memory = {"rooms": {f"room {k}": {"air": [19.5, 1000.0 + k], "demand": {"on": False}} for k in range(20)}}
    store = opened(tmp_path)
    store.save_memory(memory, stamp())
    store.close()
    path = tmp_path / "thermostatd.db"
    words = json.dumps(memory, separators=(",", ":"))
    with closing(sqlite3.connect(path)) as other:
        stored = other.execute("SELECT json FROM memory").fetchone()[0]
        assert len(stored) < len(words) / 3
        other.execute("UPDATE memory SET json = ?", (words,))
        other.commit()
    again = opened(tmp_path)
    assert again.load_memory() == (memory, stamp())
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE memory SET json = ?", (b"rubbish",))
        other.commit()
    with pytest.raises(StoreError, match="cannot be read"):
        again.load_memory()
