"""Opens the database file: bring it to this program's version, or find out why it cannot be used.

Rules: a newer database is refused and not touched; a damaged one is moved aside, never deleted, and its
memory and devices are carried over where they can still be read; where nothing can be written the old
content is read from a copy, or stands empty, so that the house goes on.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

from thermostatd.edge.store import packing
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.rows import StoreError

CHECKED_BYTES = 64 * 1024 * 1024
LAST_VERSION = 9999  # a number past this is rubbish, not a newer program's
_VERSION_AT = slice(60, 64)


@dataclass(frozen=True, slots=True)
class Kept:
    """What is carried over from a damaged database: raw rows of memory and devices."""

    memory: tuple[object, ...] | None = None
    devices: tuple[tuple[object, ...], ...] = ()


def migrations() -> list[tuple[int, str]]:
    """The numbered SQL files of this program, in order."""
    folder = files("thermostatd.edge.store") / "migrations"
    scripts = [entry for entry in folder.iterdir() if entry.name.endswith(".sql")]
    return sorted((int(entry.name[:4]), entry.read_text("utf-8")) for entry in scripts)


def newest_version() -> int:
    """The version this program writes."""
    return migrations()[-1][0]


def is_damage(fault: sqlite3.Error) -> bool:
    """Whether SQLite says that the file itself is broken."""
    code = getattr(fault, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def open_writable(path: Path) -> sqlite3.Connection:
    """The database in WAL mode at this program's version.

    Raises StoreError if it is newer than this program, sqlite3.Error if it is damaged or cannot be written.
    """
    refuse_newer(path)
    connection = sqlite3.connect(path, isolation_level=None, timeout=5.0)
    try:
        version = _version(connection)
        connection.execute("PRAGMA temp_store = MEMORY")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA journal_size_limit = 8388608")
        connection.execute(sql.BATCHED)
        _check(connection, path)
        migrate(connection, version)
        connection.execute("SELECT count(*) FROM device").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def refuse_newer(path: Path) -> None:
    """StoreError if the file's header names a version unknown to this program; it is only read."""
    with suppress(OSError), path.open("rb") as file:
        header = file.read(100)
        if header.startswith(b"SQLite format 3\x00"):
            _known(int.from_bytes(header[_VERSION_AT], "big"), str(path))


def _version(connection: sqlite3.Connection) -> int:
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    _known(version, "the database")
    if not 0 <= version <= LAST_VERSION:
        raise _damage(f"its version reads {version}")
    return version


def _known(version: int, where: str) -> None:
    newest = newest_version()
    if newest < version <= LAST_VERSION:
        raise StoreError(
            f"{where} is of version {version}, and this program knows up to {newest}: "
            "install the newer program again, or start with another state folder. Nothing was changed."
        )


def _check(connection: sqlite3.Connection, path: Path) -> None:
    # A large file is not read through at each start: its damage shows when it is met.
    if path.stat().st_size > CHECKED_BYTES:
        return
    verdict = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
    if verdict != "ok":
        raise _damage(verdict)


def _damage(what: str) -> sqlite3.DatabaseError:
    fault = sqlite3.DatabaseError(what)
    fault.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
    return fault


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Each later script in one transaction with its number: all of it or nothing."""
    for number, script in migrations():
        if number > version:
            try:
                connection.executescript(
                    f"{sql.BEGIN};\n{script}\n;PRAGMA user_version = {number:d};\nCOMMIT;"
                )
            except sqlite3.Error:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise


def open_readable(path: Path) -> sqlite3.Connection:
    """What was stored, in memory, where the file cannot be written; empty where it cannot be read either."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    with suppress(sqlite3.Error, OSError):
        _copy_into(connection, path)
    try:
        migrate(connection, _version(connection))
        if connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok":
            return connection
    except sqlite3.Error:
        pass
    connection.close()
    return open_empty()


def open_empty() -> sqlite3.Connection:
    """A database in memory, with nothing in it."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    migrate(connection, 0)
    return connection


def _copy_into(connection: sqlite3.Connection, path: Path) -> None:
    log = Path(f"{path}-wal")
    if not (log.exists() and log.stat().st_size):
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as source:
            source.backup(connection)
        return
    # The newest rows are still in the log, which only a writable copy can bring in.
    with tempfile.TemporaryDirectory(prefix="thermostatd-") as folder:
        copy = Path(folder, "copy.db")
        shutil.copyfile(path, copy)
        shutil.copyfile(log, f"{copy}-wal")
        with closing(sqlite3.connect(copy)) as source:
            source.backup(connection)


def salvage(path: Path) -> Kept:
    """Memory and devices of a damaged file, as far as they can be read."""
    memory: tuple[object, ...] | None = None
    devices: list[tuple[object, ...]] = []
    with suppress(sqlite3.Error, OSError, ValueError), closing(sqlite3.connect(path)) as connection:
        with suppress(sqlite3.Error, ValueError):
            found = connection.execute(sql.MEMORY_GET).fetchone()
            memory = found if found and isinstance(json.loads(packing.memory_text(found[0])), dict) else None
        try:
            devices = connection.execute(sql.DEVICES).fetchall()
        except sqlite3.OperationalError:  # a file from before there were guests of one room
            devices = connection.execute(sql.DEVICES_BEFORE_ROOMS).fetchall()
    return Kept(memory, tuple(devices))


def put_back(connection: sqlite3.Connection, kept: Kept) -> None:
    """What was kept, into a new database: all of it, or sqlite3.Error and nothing."""
    connection.execute(sql.BEGIN)
    try:
        if kept.memory is not None:
            connection.execute(sql.MEMORY_PUT, packing.memory_row(kept.memory))
        connection.executemany(sql.DEVICE_PUT, kept.devices)
        connection.execute("COMMIT")
    except sqlite3.Error:
        connection.execute("ROLLBACK")
        raise


def move_aside(path: Path) -> Path:
    """Rename a damaged database and its log; the new name carries the time. OSError if that is impossible."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    aside = Path(f"{path}.damaged-{stamp}")
    count = 1
    while aside.exists():
        count += 1
        aside = Path(f"{path}.damaged-{stamp}-{count}")
    path.rename(aside)
    for tail in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            Path(f"{path}{tail}").rename(f"{aside}{tail}")
    return aside
