"""The record as CSV or Parquet, with units in the names of the columns. Times are UTC."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from thermostatd.core.house import House
from thermostatd.edge.store.reader import RecordReader

WHATS = ("rooms", "heaters", "events")
COLUMNS: dict[str, dict[str, str]] = {
    "rooms": {
        "begins_utc": "time", "span_minutes": "int", "room": "text", "air_celsius": "float", "target_celsius": "float",
        "outdoor_celsius": "float", "whose": "text",
    },
    "heaters": {
        "begins_utc": "time", "span_minutes": "int", "heater": "text", "on_seconds": "int",
        "energy_watt_seconds": "int", "switches_count": "int",
    },
    "events": {"at_utc": "time", "code": "text", "about": "text", "sentence": "text"},
}  # fmt: skip
AT_ONCE = 50_000


class ExportError(Exception):
    """It could not be written; the sentence says what to do."""


def rows_of(
    what: str, house: House, record: RecordReader, since: datetime, until: datetime
) -> Iterator[tuple[Any, ...]]:
    """The rows in the order of COLUMNS."""
    if what == "rooms":
        for room in house.rooms:
            for minute in record.rooms(room.name, since, until):
                yield (_wall(minute.minute), minute.span_minutes, room.name, minute.air, minute.target,
                       minute.outdoor, minute.whose)  # fmt: skip
    elif what == "heaters":
        for key, _, _ in house.heaters():
            for row in record.heaters(key, since, until):
                yield (
                    _wall(row.minute),
                    row.span_minutes,
                    key,
                    row.on_seconds,
                    row.watt_seconds,
                    row.switches,
                )
    else:
        for event in record.events(since, until):
            yield event.wall, event.code, event.about, event.sentence


def _wall(minute: int) -> datetime:
    return datetime.fromtimestamp(minute * 60, UTC)


def write_csv(what: str, rows: Iterable[tuple[Any, ...]], out: IO[str]) -> int:
    """CSV (RFC 4180) with a head line; empty where nothing is known. Gives the number of rows."""
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS[what])
    count = 0
    for row in rows:
        writer.writerow([_told(cell) for cell in row])
        count += 1
    return count


def _told(cell: object) -> object:
    return cell.isoformat().replace("+00:00", "Z") if isinstance(cell, datetime) else cell


def write_parquet(what: str, rows: Iterable[tuple[Any, ...]], path: Path) -> int:
    """Parquet, in pieces, so that a winter needs little memory. ExportError where the library is not installed."""
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError:
        raise ExportError(
            "Parquet needs pyarrow, which is not installed: pip install 'thermostatd[parquet]', or export CSV"
        ) from None
    kinds = {
        "time": arrow.timestamp("ms", tz="UTC"),
        "int": arrow.int64(),
        "float": arrow.float64(),
        "text": arrow.string(),
    }
    columns = COLUMNS[what]
    schema = arrow.schema([(name, kinds[kind]) for name, kind in columns.items()])
    count = 0
    with parquet.ParquetWriter(path, schema) as writer:
        for piece in _pieces(rows):
            arrays = [
                arrow.array(list(cells), type=field.type)
                for cells, field in zip(zip(*piece, strict=True), schema, strict=True)
            ]
            writer.write_table(arrow.Table.from_arrays(arrays, schema=schema))
            count += len(piece)
    return count


def _pieces(rows: Iterable[tuple[Any, ...]]) -> Iterator[list[tuple[Any, ...]]]:
    piece: list[tuple[Any, ...]] = []
    for row in rows:
        piece.append(row)
        if len(piece) >= AT_ONCE:
            yield piece
            piece = []
    if piece:
        yield piece
