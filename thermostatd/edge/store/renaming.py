"""The record of rooms, heaters and spots that bear another name now goes by the new one.

Rules: rows of the new name that are there already stay; names that are exchanged go by names that nobody bears; it is
one transaction with the memory that goes by the new names.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from thermostatd.edge.store import packing
from thermostatd.edge.store import statements as sql

MEANWHILE = "\x1a"  # no name holds a control character


def rename(connection: sqlite3.Connection, names: Mapping[str, str]) -> None:
    """Every row of an old name goes by its new one."""
    given = {packing.text(old): packing.text(new) for old, new in names.items()}
    # heaters first: what is left of "room/…" then follows the room
    ordered = sorted(given.items(), key=lambda pair: -pair[0].count("/"))
    if given.keys() & set(given.values()):
        pairs = [(old, MEANWHILE + new) for old, new in ordered] + [(MEANWHILE + new, new) for _, new in ordered]
    else:
        pairs = ordered
    for old, new in pairs:
        _rename(connection, old, new)


def _rename(connection: sqlite3.Connection, old: str, new: str) -> None:
    connection.execute(sql.NAME, (new,))
    for statement in sql.RENAMES:
        connection.execute(statement, {"old": old, "new": new})
