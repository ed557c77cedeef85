"""Join codes and joined devices. Every function works on the writer's connection, inside its transaction.

Rules: only hashes are stored; a code is taken once and expires; forgetting a device is at once and durable.
"""

from __future__ import annotations

import sqlite3
from datetime import datetime

from thermostatd.edge.store import packing
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Values
from thermostatd.edge.store.rows import CodeRow, DeviceRow


def add_code(connection: sqlite3.Connection, row: CodeRow) -> None:
    """A code that may be taken once until it expires."""
    wanted = (
        row.code_hash,
        packing.text(row.role),
        packing.milliseconds(row.expires_wall),
        packing.text(row.name),
        packing.text_or_none(row.room),
        packing.milliseconds_or_none(row.until),
    )
    connection.execute(sql.CODE_PUT, wanted)


def codes(connection: sqlite3.Connection, now_wall: datetime) -> list[str]:
    """The hashes of codes that still stand."""
    return [row[0] for row in connection.execute(sql.CODES, (packing.milliseconds(now_wall),))]


def take_code(connection: sqlite3.Connection, code_hash: str, now_wall: datetime) -> CodeRow | None:
    """The code, if it stands and has not expired; either way it stands no more."""
    found = connection.execute(sql.CODE_GET, (code_hash,)).fetchone()
    connection.execute(sql.CODE_DROP, (code_hash,))
    connection.execute(sql.CODES_DROP, (packing.milliseconds(now_wall),))
    if found is None or found[2] <= packing.milliseconds(now_wall):
        return None
    role, expires, name, room, until = found[1:]
    return CodeRow(code_hash, role, packing.wall_of(expires), name, room, packing.wall_or_none(until))


def packed_device(row: DeviceRow) -> Values:
    """A device as the table holds it."""
    times = (packing.milliseconds_or_none(each) for each in (row.until, row.added, row.seen))
    names = (row.id_hash, packing.text(row.name), packing.text(row.role))
    return (*names, *times, packing.text_or_none(row.room))


def add_device(connection: sqlite3.Connection, device: Values) -> None:
    """A packed device that joined."""
    connection.execute(sql.DEVICE_PUT, device)


def rename_device(connection: sqlite3.Connection, id_hash: str, name: str) -> bool:
    """Whether the device was there to be renamed."""
    return connection.execute(sql.DEVICE_RENAME, (packing.text(name), id_hash)).rowcount == 1


def forget_device(connection: sqlite3.Connection, id_hash: str) -> bool:
    """Whether the device was there to be forgotten."""
    return connection.execute(sql.DEVICE_FORGET, (id_hash,)).rowcount == 1


def devices(connection: sqlite3.Connection) -> dict[str, DeviceRow]:
    """All devices by hash, in the order in which they joined."""
    when = packing.wall_or_none
    return {
        id_hash: DeviceRow(id_hash, name, role, when(until), when(added), when(seen), room)
        for id_hash, name, role, until, added, seen, room in connection.execute(sql.DEVICES)
    }
