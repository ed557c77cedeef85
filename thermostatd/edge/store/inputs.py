"""What the rules were given, by the day, and what nightly learning learns from: rows in, rows out.

Rules: bodies are made and read elsewhere, here they are bytes; a reader from outside the daemon opens the
database read-only and never writes to it, whoever holds the lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from thermostatd.edge.store import packing
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Values
from thermostatd.edge.store.rows import StoreError


@dataclass(frozen=True, slots=True)
class SegmentRow:
    """The beginning of a stretch of recorded steps. `day` is the house's own date; bodies are packed."""

    mark: int
    wall: datetime
    day: str
    digest: str
    described: bytes
    program: str
    memory: bytes


@dataclass(frozen=True, slots=True)
class InputRow:
    """Some minutes of a segment's steps, packed; `part` counts from 0."""

    mark: int
    part: int
    wall: datetime
    body: bytes


def packed_segment(row: SegmentRow) -> Values:
    """A segment as its table holds it, its house file at the end."""
    told = (row.mark, packing.milliseconds(row.wall), row.day, row.digest, row.program, row.memory)
    return (*told, row.described)


def packed_input(row: InputRow) -> Values:
    """A part as its table holds it."""
    return (row.mark, row.part, packing.milliseconds(row.wall), row.body)


def put_rows(connection: sqlite3.Connection, rows: dict[str, list[Values]]) -> None:
    """One batch of packed rows, inside the caller's transaction."""
    segments = rows.get("segment", [])
    connection.executemany(sql.DESCRIBED_PUT, ((row[3], row[6]) for row in segments))
    connection.executemany(sql.SEGMENT_PUT, (row[:6] for row in segments))
    connection.executemany(sql.INPUT_PUT, rows.get("input", []))
    connection.executemany(sql.LEARNING_PUT, rows.get("learning", [])[-1:])
    connection.executemany(sql.TOLD_PUT, rows.get("told", [])[-1:])


def forget(connection: sqlite3.Connection, before: datetime) -> int:
    """Drop segments that began before a time, and their parts; how many parts went."""
    limit = (packing.milliseconds(before),)
    went = connection.execute(sql.INPUTS_DROP, limit).rowcount
    connection.execute(sql.SEGMENTS_DROP, limit)
    connection.execute(sql.DESCRIBED_DROP)
    return went


def learning(connection: sqlite3.Connection) -> bytes | None:
    """What learning learns from, as it was last kept."""
    found = connection.execute(sql.LEARNING_GET).fetchone()
    return bytes(found[0]) if found else None


def told(connection: sqlite3.Connection) -> str | None:
    """What the owner was told of troubles, as last kept."""
    found = connection.execute(sql.TOLD_GET).fetchone()
    return str(found[0]) if found else None


def days(connection: sqlite3.Connection) -> list[str]:
    """The days of which something is recorded, oldest first."""
    return [str(day) for (day,) in connection.execute(sql.DAYS)]


def segments(connection: sqlite3.Connection, day: str) -> list[tuple[SegmentRow, list[bytes]]]:
    """The segments of a day in the order in which they were lived, each with its parts."""
    found = []
    for mark, wall, digest, program, memory, body in connection.execute(sql.SEGMENT_GET, (day,)).fetchall():
        row = SegmentRow(mark, packing.wall_of(wall), day, digest, bytes(body), program, bytes(memory))
        parts = [bytes(part) for (part,) in connection.execute(sql.INPUT_GET, (mark,))]
        found.append((row, parts))
    return found


@contextmanager
def opened_to_read(folder: Path) -> Iterator[sqlite3.Connection]:
    """The database of a state folder, to read only, beside a daemon or without one. StoreError where it cannot be."""
    path = folder / "thermostatd.db"
    if not path.exists():
        raise StoreError(f"no record lies in {folder}: give the daemon's folder with --state")
    # without a log there is nobody who writes, and a read-only disk can be read too
    tail = "mode=ro" if Path(f"{path}-wal").exists() else "mode=ro&immutable=1"
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?{tail}", uri=True, isolation_level=None)
    try:
        if connection.execute("PRAGMA user_version").fetchone()[0] < 3:
            raise StoreError(f"the record in {folder} is of an older program, which kept no inputs")
        yield connection
    except sqlite3.Error as fault:
        raise StoreError(f"the record in {folder} cannot be read: {fault}") from fault
    finally:
        connection.close()
