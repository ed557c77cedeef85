"""Requests, events and minutes: rows in, rows out, thinning. All on the writer's connection."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from datetime import datetime

from thermostatd.edge.store import packing
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Values
from thermostatd.edge.store.rows import EventRow, HeaterMinuteRow, MinuteRow, RequestRow

CHUNK_MINUTES = 1440


def packed_request(row: RequestRow) -> Values:
    """A request as the table holds it."""
    return (
        packing.milliseconds(row.wall),
        float(row.steady),
        packing.text(row.kind),
        packing.text(row.about),
        packing.hundredths(row.celsius),
        packing.milliseconds_or_none(row.until),
        packing.text_or_none(row.who),
        packing.text_or_none(row.origin),
        packing.text(row.answer),
        packing.text_or_none(row.code),
        packing.text_or_none(row.replaced),
    )


def packed_event(row: EventRow) -> Values:
    """An event as the table holds it."""
    return (
        packing.milliseconds(row.wall),
        packing.text(row.code),
        packing.text(row.about),
        packing.text(row.sentence),
        packing.text_or_none(row.told),
    )


def packed_minute(row: MinuteRow) -> Values:
    """A room's minute as the table holds it."""
    temperatures = (
        packing.hundredths(row.air),
        packing.hundredths(row.target),
        packing.hundredths(row.outdoor),
    )
    return (int(row.minute), packing.text(row.room), *temperatures, packing.text(row.whose))


def packed_heater_minute(row: HeaterMinuteRow) -> Values:
    """A heater's minute as the table holds it."""
    amounts = (packing.whole(row.on_seconds), packing.whole(row.watt_seconds), packing.whole(row.switches))
    return (int(row.minute), packing.text(row.heater), *amounts)


def put_rows(connection: sqlite3.Connection, rows: dict[str, list[Values]]) -> None:
    """One batch of packed rows, inside the caller's transaction."""
    minutes, heaters = rows.get("minute", []), rows.get("heater", [])
    names = {row[1] for row in (*minutes, *heaters)} | {row[5] for row in minutes}
    connection.executemany(sql.NAME, ((name,) for name in names))
    connection.executemany(sql.EVENT_PUT, rows.get("event", []))
    connection.executemany(sql.MINUTE_PUT, minutes)
    connection.executemany(sql.HEATER_PUT, heaters)
    connection.executemany(sql.DEVICE_TOUCH, rows.get("touch", []))


def trace(connection: sqlite3.Connection, room: str, since: datetime, until: datetime) -> list[MinuteRow]:
    """A room's minutes and quarter hours that begin in [since, until), oldest first."""
    found = connection.execute(sql.MINUTE_GET, _window("room", room, since, until))
    return [
        MinuteRow(
            minute,
            room,
            packing.celsius_of(air),
            packing.celsius_of(target),
            packing.celsius_of(outdoor),
            whose,
            span,
        )
        for minute, air, target, outdoor, whose, span in found
    ]


def heater_trace(
    connection: sqlite3.Connection, heater: str, since: datetime, until: datetime
) -> list[HeaterMinuteRow]:
    """A heater's minutes and quarter hours that begin in [since, until), oldest first."""
    found = connection.execute(sql.HEATER_GET, _window("heater", heater, since, until))
    return [
        HeaterMinuteRow(minute, heater, on_seconds, watt_seconds, switches, span)
        for minute, on_seconds, watt_seconds, switches, span in found
    ]


def energies(
    connection: sqlite3.Connection, pieces: Sequence[tuple[datetime, datetime]]
) -> dict[str, list[float]]:
    """Each heater's watt-hours of the minutes that begin in each [since, until)."""
    bounds = [[packing.first_minute_of(since), packing.first_minute_of(until)] for since, until in pieces]
    found: dict[str, list[float]] = {}
    for heater, place, watt_seconds in connection.execute(sql.ENERGIES, {"pieces": json.dumps(bounds)}):
        found.setdefault(heater, [0.0] * len(pieces))[place] = watt_seconds / 3600.0
    return found


def _window(key: str, name: str, since: datetime, until: datetime) -> dict[str, object]:
    return {
        key: packing.text(name),
        "since": packing.first_minute_of(since),
        "until": packing.first_minute_of(until),
    }


def requests(connection: sqlite3.Connection, limit: int, about: str | None) -> list[RequestRow]:
    """The last requests, newest first."""
    found = connection.execute(sql.REQUEST_GET, {"about": about, "limit": max(0, limit)})
    return [
        RequestRow(
            packing.wall_of(wall),
            steady,
            kind,
            row_about,
            packing.celsius_of(celsius),
            packing.wall_or_none(until),
            who,
            origin,
            answer,
            code,
            replaced,
        )
        for wall, steady, kind, row_about, celsius, until, who, origin, answer, code, replaced in found
    ]


def events(connection: sqlite3.Connection, since: datetime, limit: int, about: str | None) -> list[EventRow]:
    """Events since a time, newest first."""
    wanted = {"since": packing.milliseconds(since), "limit": max(0, limit), "about": about}
    found = connection.execute(sql.EVENT_GET, wanted)
    return [
        EventRow(packing.wall_of(wall), code, row_about, words, told)
        for wall, code, row_about, words, told in found
    ]


def chunks_before(connection: sqlite3.Connection, before: datetime) -> Iterable[int]:
    """Ends of day-long pieces of what is old enough to be thinned, so that no write lasts long."""
    end = packing.minute_of(before) // 15 * 15
    oldest = connection.execute(sql.OLDEST_MINUTE).fetchone()[0]
    if oldest is None or oldest >= end:
        return []
    # Gaps of years (a clock once at 1970) are stepped over in a handful of longer pieces.
    step = max(CHUNK_MINUTES, (end - oldest) // 4000 // 15 * 15)
    return [*range((oldest // 15 * 15) + step, end, step), end]


def thin_chunk(connection: sqlite3.Connection, end_minute: int) -> int:
    """Minutes before `end_minute` become quarter hours; the number of rows that went."""
    connection.execute(sql.THIN, (end_minute,))
    connection.execute(sql.THIN_HEATERS, (end_minute,))
    went = connection.execute(sql.DROP_MINUTES, (end_minute,)).rowcount
    return went + connection.execute(sql.DROP_HEATER_MINUTES, (end_minute,)).rowcount


def prune(connection: sqlite3.Connection, before: datetime) -> int:
    """Drop events and requests from before a time, and codes that have expired by then; how many rows."""
    limit = (packing.milliseconds(before),)
    drops = (sql.DROP_EVENTS, sql.DROP_REQUESTS, sql.CODES_DROP)
    return sum(connection.execute(drop, limit).rowcount for drop in drops)
