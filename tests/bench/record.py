"""Bytes that a room takes in the store in a year: a day of minutes written, then thinned as the daemon does."""

from __future__ import annotations

import math
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.bench.row import Row
from thermostatd.edge.clock import Clock
from thermostatd.edge.store import HeaterMinuteRow, MinuteRow, Store

ROOMS, DAYS = 20, 1
MINUTES_KEPT_DAYS = 60
FIRST_MINUTE = int(datetime(2026, 1, 12, tzinfo=UTC).timestamp()) // 60


def measure(folder: Path) -> list[Row]:
    """A year is 60 days of minutes and the rest in quarter hours; each from the bytes of one day of twenty rooms."""
    store = Store.open(folder, Clock().now)
    try:
        empty = _bytes(store, folder)
        for minute in range(1440 * DAYS):
            store.add_minutes(_rows(minute))
        minutes = (_bytes(store, folder) - empty) / ROOMS / DAYS
        store.thin(datetime.fromtimestamp(FIRST_MINUTE * 60, UTC) + timedelta(days=DAYS + 1))
        quarters = (_bytes(store, folder) - empty) / ROOMS / DAYS
    finally:
        store.close()
    year = MINUTES_KEPT_DAYS * minutes + (365 - MINUTES_KEPT_DAYS) * quarters
    note = f"a day: {minutes / 1000:.1f} kB of minutes, {quarters / 1000:.1f} kB of quarter hours"
    return [Row("store, a room and its heater for a year (estimate)", year / 1e6, unit="MB", note=note)]


def _rows(minute: int) -> list[MinuteRow | HeaterMinuteRow]:
    rows: list[MinuteRow | HeaterMinuteRow] = []
    for room in range(ROOMS):
        air = 19.0 + math.sin(minute / 30.0 + room)
        rows.append(MinuteRow(FIRST_MINUTE + minute, f"room {room}", air, 19.5, -4.0, "usual week"))
        if air < 19.0:
            rows.append(HeaterMinuteRow(FIRST_MINUTE + minute, f"room {room}/heater", 60, 36_000, 0))
    return rows


def _bytes(store: Store, folder: Path) -> int:
    """Pages in use: what the file would hold without its free ones."""
    assert store.flush()
    with sqlite3.connect(f"file:{folder}/thermostatd.db?mode=ro", uri=True) as database:
        size, pages, free = (
            database.execute(f"pragma {what}").fetchone()[0]
            for what in ("page_size", "page_count", "freelist_count")
        )
    return int(size * (pages - free))
