"""The store's faces that do not wait: each returns a Future, which the writer thread settles.

`store.trace(...)` waits; in a coroutine write `await asyncio.wrap_future(store.soon.trace(...))`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from dataclasses import astuple
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.clock import Stamp
from thermostatd.edge.store import history, inputs, packing, people, upkeep
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Values
from thermostatd.edge.store.book import Work
from thermostatd.edge.store.desk import Desk
from thermostatd.edge.store.rows import (
    CodeRow,
    DeviceRow,
    EventRow,
    HeaterMinuteRow,
    MinuteRow,
    RequestRow,
    StoreError,
)
from thermostatd.edge.store.writer import Writer

T = TypeVar("T")
Memory = dict[str, object]


class Soon:
    """Futures of everything that needs the database. Their exceptions are StoreError."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self._numbers = count()

    def save_memory(self, memory: Memory, stamp: Stamp, *, at_once: bool = False) -> None:
        """Memory that goes with the next batch; `at_once`: also on its way to the disk now, durable. ValueError if it
        is not JSON-able."""
        number, packed = next(self._numbers), _packed_memory(memory, stamp)
        self._writer.batch.remember(number, packed)
        if at_once:
            self._writer.later(lambda desk: desk.keep(number, packed))
        self._writer.nudge()

    def load_memory(self) -> Future[tuple[Memory, Stamp] | None]:
        """The last memory that was written, with its stamp."""
        return self._writer.later(_load_memory)

    def commit_request(self, row: RequestRow, memory: Memory, stamp: Stamp) -> Future[None]:
        """Request and memory, durable once the Future is done without an exception."""
        number, packed, request = (
            next(self._numbers),
            _packed_memory(memory, stamp),
            history.packed_request(row),
        )
        return self._writer.later(lambda desk: desk.commit(number, packed, request))

    def rename(self, names: Mapping[str, str], memory: Memory, stamp: Stamp) -> Future[None]:
        """See Store.rename; a Future that need not be waited for."""
        number, packed = next(self._numbers), _packed_memory(memory, stamp)
        return self._writer.later(lambda desk: desk.rename(number, packed, dict(names)))

    def add(self, kind: str, rows: list[Values]) -> None:
        """Packed rows for the next batch."""
        self._writer.batch.add(kind, rows)
        self._writer.nudge()

    def trace(self, room: str, since: datetime, until: datetime) -> Future[list[MinuteRow]]:
        """See Store.trace."""
        return self._read(lambda c: history.trace(c, room, since, until), "minute")

    def heater_trace(self, heater: str, since: datetime, until: datetime) -> Future[list[HeaterMinuteRow]]:
        """See Store.heater_trace."""
        return self._read(lambda c: history.heater_trace(c, heater, since, until), "heater")

    def energies(self, pieces: Sequence[tuple[datetime, datetime]]) -> Future[dict[str, list[float]]]:
        """See Store.energies."""
        return self._read(lambda c: history.energies(c, pieces), "heater")

    def requests(self, limit: int, room: str | None = None) -> Future[list[RequestRow]]:
        """See Store.requests."""
        return self._read(lambda c: history.requests(c, limit, room))

    def events(self, since: datetime, limit: int, about: str | None = None) -> Future[list[EventRow]]:
        """See Store.events."""
        return self._read(lambda c: history.events(c, since, limit, about), "event")

    def add_code(self, row: CodeRow) -> Future[None]:
        """See Store.add_code."""
        return self._people(lambda c: people.add_code(c, row))

    def codes(self, now_wall: datetime) -> Future[list[str]]:
        """See Store.codes."""
        return self._read(lambda c: people.codes(c, now_wall))

    def take_code(self, code_hash: str, now_wall: datetime) -> Future[CodeRow | None]:
        """See Store.take_code."""
        return self._people(lambda c: people.take_code(c, code_hash, now_wall))

    def add_device(self, row: DeviceRow) -> Future[None]:
        """See Store.add_device."""
        packed = people.packed_device(row)
        return self._people(lambda c: people.add_device(c, packed))

    def rename_device(self, id_hash: str, name: str) -> Future[bool]:
        """See Store.rename_device."""
        return self._people(lambda c: people.rename_device(c, id_hash, name))

    def forget_device(self, id_hash: str) -> Future[bool]:
        """See Store.forget_device."""
        return self._people(lambda c: people.forget_device(c, id_hash))

    def flush(self) -> Future[bool]:
        """See Store.flush."""
        return self._writer.later(Desk.flush)

    def thin(self, before: datetime) -> Future[int]:
        """See Store.thin. Other work goes between its days."""
        return upkeep.thin(self._writer, before)

    def prune(self, before: datetime) -> Future[int]:
        """See Store.prune."""
        return self._writer.later(lambda desk: desk.durable(lambda c: history.prune(c, before)))

    def load_learning(self) -> Future[bytes | None]:
        """See Store.load_learning."""
        return self._read(inputs.learning, "learning")

    def load_told(self) -> Future[str | None]:
        """See Store.load_told."""
        return self._read(inputs.told, "told")

    def forget_inputs(self, before: datetime) -> Future[int]:
        """See Store.forget_inputs."""
        return self._writer.later(lambda desk: desk.durable(lambda c: inputs.forget(c, before)))

    def backup(self, path: Path) -> Future[None]:
        """See Store.backup."""
        return self._writer.later(lambda desk: upkeep.backup(desk, path))

    def _read(self, work: Work[T], *waits: str) -> Future[T]:
        return self._writer.later(lambda desk: desk.read(work, waits))

    def _people(self, work: Work[T]) -> Future[T]:
        return self._writer.later(lambda desk: desk.change_people(work))


def _packed_memory(memory: Memory, stamp: Stamp) -> Values:
    # Packed at once, in the caller's thread: what is stored is what the memory was at this moment.
    words = json.dumps(memory, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return (words, *astuple(stamp))


def _load_memory(desk: Desk) -> tuple[Memory, Stamp] | None:
    found = desk.read(_memory_row)
    if found is None:
        return None
    try:
        words, boot_id, boot_seconds, steady, wall_iso = found
        memory, stamp = (
            json.loads(packing.memory_text(words)),
            Stamp(str(boot_id), float(boot_seconds), float(steady), str(wall_iso)),
        )
    except (ValueError, TypeError) as fault:
        raise StoreError(f"the stored memory cannot be read: {fault}") from fault
    return (memory, stamp) if isinstance(memory, dict) else None


def _memory_row(connection: sqlite3.Connection) -> tuple[str | bytes, str, float, float, str] | None:
    row: tuple[str | bytes, str, float, float, str] | None = connection.execute(sql.MEMORY_GET).fetchone()
    return row
