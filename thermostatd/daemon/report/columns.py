"""The record as columns of numbers, so that a winter of a large house is summed in seconds.

Rules: a value that is not known is not-a-number, never zero; a quarter hour is one row that spans fifteen minutes; rows
are in the order of time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermostatd.edge.store import HeaterMinuteRow, MinuteRow

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class RoomColumns:
    """A room's minutes (Unix seconds / 60), how many minutes each row spans, and °C."""

    minute: Whole
    span: Whole
    air: Numbers
    target: Numbers
    outdoor: Numbers


@dataclass(frozen=True, slots=True)
class HeaterColumns:
    """A heater's minutes, how many minutes each row spans, and its sums."""

    minute: Whole
    span: Whole
    on_seconds: Whole
    watt_seconds: Whole
    switches: Whole


def room_columns(rows: RoomColumns | Sequence[MinuteRow]) -> RoomColumns:
    """Rows as columns; columns as they are."""
    if isinstance(rows, RoomColumns):
        return rows
    return RoomColumns(
        _whole([row.minute for row in rows]),
        _whole([row.span_minutes for row in rows]),
        *(np.array([getattr(row, name) for row in rows], float) for name in ("air", "target", "outdoor")),
    )


def heater_columns(rows: HeaterColumns | Sequence[HeaterMinuteRow]) -> HeaterColumns:
    """Rows as columns; columns as they are."""
    if isinstance(rows, HeaterColumns):
        return rows
    names = ("minute", "span_minutes", "on_seconds", "watt_seconds", "switches")
    return HeaterColumns(*(_whole([getattr(row, name) for row in rows]) for name in names))


def _whole(values: Sequence[int]) -> Whole:
    return np.array(values, np.int64)


def split_rooms(table: NDArray[Any], names: dict[int, str], missing: int) -> dict[str, RoomColumns]:
    """A table of (minute, name's number, span, air, target, outdoor), hundredths of a °C, as columns for each room."""
    found = {}
    for name, rows in _by_name(table, names):
        celsius = np.where(rows[:, 3:] == missing, np.nan, rows[:, 3:] / 100.0)
        found[name] = RoomColumns(rows[:, 0].astype(np.int64), rows[:, 2].astype(np.int64), *celsius.T)
    return found


def split_heaters(table: NDArray[Any], names: dict[int, str]) -> dict[str, HeaterColumns]:
    """A table of (minute, name's number, span, seconds on, watt-seconds, switchings) as columns for each heater."""
    return {
        name: HeaterColumns(rows[:, 0], rows[:, 2], rows[:, 3], rows[:, 4], rows[:, 5])
        for name, rows in _by_name(table.astype(np.int64), names)
    }


def _by_name(table: NDArray[Any], names: dict[int, str]) -> list[tuple[str, NDArray[Any]]]:
    if not len(table):
        return []
    order = np.lexsort((table[:, 0], table[:, 1]))  # minutes and quarter hours come from tables of their own
    found, starts = np.unique(table[order, 1], return_index=True)
    parts = np.split(order, starts[1:])
    return [(names[int(number)], table[part]) for number, part in zip(found, parts, strict=True) if len(part)]


NO_ROOM = room_columns([])
NO_HEATER = heater_columns([])
