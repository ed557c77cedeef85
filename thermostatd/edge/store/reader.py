"""The record of a state folder, read beside a running daemon or without one, and never written to."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from thermostatd.edge.store import history, packing
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.inputs import opened_to_read
from thermostatd.edge.store.rows import EventRow, HeaterMinuteRow, MinuteRow

MOST_EVENTS = 1_000_000
ROWS_AT_ONCE = 50_000
MISSING = sql.MISSING


class RecordReader:
    """Rows of [since, until), oldest first."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def rooms(self, room: str, since: datetime, until: datetime) -> list[MinuteRow]:
        """A room's minutes and quarter hours."""
        return history.trace(self._connection, room, since, until)

    def heaters(self, heater: str, since: datetime, until: datetime) -> list[HeaterMinuteRow]:
        """A heater's minutes and quarter hours."""
        return history.heater_trace(self._connection, heater, since, until)

    def names(self) -> dict[int, str]:
        """The names of rooms and heaters by the numbers that stand for them in tables."""
        return dict(self._connection.execute(sql.NAMES).fetchall())

    def tables(self, since: datetime, until: datetime) -> Iterator[tuple[str, list[tuple[int, ...]]]]:
        """Every room's and heater's rows as numbers, some thousands at a time: "rooms" or "heaters", and rows."""
        window = {"since": packing.first_minute_of(since), "until": packing.first_minute_of(until)}
        for what, statement in (("rooms", sql.ALL_MINUTES), ("heaters", sql.ALL_HEATERS)):
            cursor = self._connection.execute(statement, window)
            while rows := cursor.fetchmany(ROWS_AT_ONCE):
                yield what, rows

    def events(self, since: datetime, until: datetime) -> list[EventRow]:
        """What happened."""
        rows = history.events(self._connection, since, MOST_EVENTS, None)
        return [row for row in reversed(rows) if row.wall < until]

    def memory(self) -> dict[str, Any]:
        """What the regulator last remembered; empty where nothing was."""
        row = self._connection.execute(sql.MEMORY_GET).fetchone()
        memory = json.loads(packing.memory_text(row[0])) if row else {}
        return memory if isinstance(memory, dict) else {}

    def begins(self) -> datetime | None:
        """The first minute that is known."""
        first = self._connection.execute(
            "SELECT min(first) FROM (SELECT min(minute) AS first FROM minute UNION ALL SELECT min(minute) FROM quarter)"
        ).fetchone()[0]
        return None if first is None else packing.wall_of(int(first) * 60_000)


@contextmanager
def open_record(folder: Path) -> Iterator[RecordReader]:
    """The record in a state folder. StoreError where there is none, or it cannot be read."""
    with opened_to_read(folder) as connection:
        yield RecordReader(connection)
