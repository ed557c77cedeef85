"""The store's faces: what the house remembers, in one SQLite file.

Rules: saving memory and adding rows never waits and never fails for a disk's sake; what a person was
answered is durable first; joined devices are answered from memory, so that no page waits for the disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future
from concurrent.futures import TimeoutError as FutureTimeout
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.clock import Stamp
from thermostatd.edge.store import history, inputs, packing
from thermostatd.edge.store.inputs import InputRow, SegmentRow
from thermostatd.edge.store.lock import drop_lock, take_lock
from thermostatd.edge.store.rows import (
    CodeRow,
    DeviceRow,
    EventRow,
    HeaterMinuteRow,
    MinuteRow,
    RequestRow,
    StoreError,
)
from thermostatd.edge.store.soon import Memory, Soon
from thermostatd.edge.store.writer import Writer

T = TypeVar("T")
WAIT_SECONDS = 15.0
LONG_WAIT_SECONDS = 3600.0


class Store:
    """One open database. Every method may be called from any thread; those that read or commit wait, and
    raise StoreError; `soon` holds the same faces as Futures.
    """

    def __init__(self, writer: Writer, lock: int | None) -> None:
        self._writer = writer
        self._lock = lock
        self.soon = Soon(writer)

    @classmethod
    def open(cls, folder: Path, now: Callable[[], float]) -> Store:
        """The store in `folder` (file `thermostatd.db`); `now` gives steady seconds, from any thread.

        Raises StoreError if the database is of a newer program or another process uses it. Damage, a full
        or a read-only disk raise nothing: look at `writing` and `notes`.
        """
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as fault:
            if not isinstance(fault, FileExistsError):
                return cls(Writer(folder / "thermostatd.db", now), None)
            raise StoreError(f"the state folder {folder} is a file: give another one") from fault
        lock = take_lock(folder / "thermostatd.lock")
        try:
            return cls(Writer(folder / "thermostatd.db", now), lock)
        except BaseException:
            drop_lock(lock)
            raise

    def close(self) -> None:
        """Write what waits, and close. Doing it twice does nothing."""
        self._writer.close(WAIT_SECONDS)
        drop_lock(self._lock)
        self._lock = None

    @property
    def writing(self) -> bool:
        """Whether what was last written reached the disk."""
        return self._writer.desk.book.writing

    @property
    def why_not(self) -> str:
        """Why nothing is written and what mends it; empty while writing."""
        return self._writer.desk.book.why_not

    @property
    def notes(self) -> tuple[str, ...]:
        """What the household should know about the store: sentences, oldest first, the last twenty."""
        return tuple(self._writer.desk.book.notes)

    @property
    def dropped_rows(self) -> int:
        """Rows given up because the disk could not take them for too long."""
        return self._writer.batch.dropped

    # what the regulator remembers

    def save_memory(self, memory: Memory, stamp: Stamp, *, at_once: bool = False) -> None:
        """Memory for the next batch (at most 60 s away), or `at_once` and durable; never waits; the latest wins.
        ValueError if not JSON-able."""
        self.soon.save_memory(memory, stamp, at_once=at_once)

    def load_memory(self) -> tuple[Memory, Stamp] | None:
        """The last memory that was written, and when."""
        return _wait(self.soon.load_memory())

    def commit_request(self, row: RequestRow, memory: Memory, stamp: Stamp) -> None:
        """A request and the memory it left, durable together; acknowledge only after this returns."""
        _wait(self.soon.commit_request(row, memory, stamp))

    def rename(self, names: Mapping[str, str], memory: Memory, stamp: Stamp) -> None:
        """The record of rooms, spots and heaters goes by new names, `{old: new}`, durable with the memory that does."""
        _wait(self.soon.rename(names, memory, stamp), LONG_WAIT_SECONDS)

    # rows for the record

    def add_events(self, rows: Iterable[EventRow]) -> None:
        """Events for the next batch."""
        self.soon.add("event", [history.packed_event(row) for row in rows])

    def add_minutes(self, rows: Iterable[MinuteRow | HeaterMinuteRow]) -> None:
        """Minutes of rooms and heaters for the batch. A room's minute told twice: the later one holds."""
        rows = list(rows)
        self.soon.add("minute", [history.packed_minute(row) for row in rows if isinstance(row, MinuteRow)])
        self.soon.add(
            "heater", [history.packed_heater_minute(row) for row in rows if isinstance(row, HeaterMinuteRow)]
        )

    def add_inputs(self, rows: Iterable[SegmentRow | InputRow]) -> None:
        """Recorded inputs for the next batch."""
        rows = list(rows)
        self.soon.add("segment", [inputs.packed_segment(row) for row in rows if isinstance(row, SegmentRow)])
        self.soon.add("input", [inputs.packed_input(row) for row in rows if isinstance(row, InputRow)])

    def keep_learning(self, wall: datetime, body: bytes) -> None:
        """What learning learns from, for the next batch; the latest replaces what was kept."""
        self.soon.add("learning", [(packing.milliseconds(wall), body)])

    def load_learning(self) -> bytes | None:
        """What learning learns from, as last kept."""
        return _wait(self.soon.load_learning())

    def keep_told(self, body: str) -> None:
        """What the owner was told of troubles, for the next batch; the latest replaces what was kept."""
        self.soon.add("told", [(body,)])

    def load_told(self) -> str | None:
        """What the owner was told of troubles, as last kept."""
        return _wait(self.soon.load_told())

    def trace(self, room: str, since: datetime, until: datetime) -> list[MinuteRow]:
        """A room's minutes and quarter hours that begin in [since, until), oldest first."""
        return _wait(self.soon.trace(room, since, until))

    def heater_trace(self, heater: str, since: datetime, until: datetime) -> list[HeaterMinuteRow]:
        """A heater's minutes and quarter hours that begin in [since, until), oldest first."""
        return _wait(self.soon.heater_trace(heater, since, until))

    def energies(self, pieces: Sequence[tuple[datetime, datetime]]) -> dict[str, list[float]]:
        """Each heater's watt-hours in the minutes that begin in each [since, until); a heater unknown is left out."""
        return _wait(self.soon.energies(pieces))

    def requests(self, limit: int, room: str | None = None) -> list[RequestRow]:
        """The last requests (about one room, spot or thing), newest first."""
        return _wait(self.soon.requests(limit, room))

    def events(self, since: datetime, limit: int, about: str | None = None) -> list[EventRow]:
        """Events since an aware time, newest first."""
        return _wait(self.soon.events(since, limit, about))

    # who may come in

    def add_code(
        self,
        code_hash: str,
        role: str,
        expires_wall: datetime,
        name: str,
        *,
        room: str | None = None,
        until: datetime | None = None,
    ) -> None:
        """A join code, of which only the hash is known here; `room` and `until` bound what it gives."""
        _wait(self.soon.add_code(CodeRow(code_hash, role, expires_wall, name, room, until)))

    def codes(self, now_wall: datetime) -> list[str]:
        """The hashes of the codes that stand. StoreError if they cannot be read."""
        return _wait(self.soon.codes(now_wall))

    def take_code(self, code_hash: str, now_wall: datetime) -> CodeRow | None:
        """The code, once; None if it is unknown, taken or expired. StoreError if that cannot be stored."""
        return _wait(self.soon.take_code(code_hash, now_wall))

    def add_device(
        self,
        id_hash: str,
        name: str,
        role: str,
        until: datetime | None = None,
        *,
        added: datetime | None = None,
        room: str | None = None,
    ) -> None:
        """A device that joined at `added`, until an aware time (None: no end), for one room or for all."""
        _wait(self.soon.add_device(DeviceRow(id_hash, name, role, until, added, added, room)))

    def device(self, id_hash: str) -> DeviceRow | None:
        """The device of that hash, at once; the caller looks at `until`."""
        return self._writer.desk.book.devices.get(id_hash)

    def devices(self) -> list[DeviceRow]:
        """All devices in the order in which they joined, at once."""
        return list(self._writer.desk.book.devices.values())

    def rename_device(self, id_hash: str, name: str) -> bool:
        """Whether there was such a device."""
        return _wait(self.soon.rename_device(id_hash, name))

    def forget_device(self, id_hash: str) -> bool:
        """Whether there was such a device; it is gone for good when this returns."""
        return _wait(self.soon.forget_device(id_hash))

    def touch_device(self, id_hash: str, wall: datetime) -> None:
        """The device was here; goes with the next batch."""
        self.soon.add("touch", [(packing.milliseconds(wall), id_hash)])

    # upkeep

    def flush(self) -> bool:
        """Write what waits, now; False if that is impossible at present."""
        return _wait(self.soon.flush())

    def thin(self, before: datetime) -> int:
        """Turn minutes from before a time into quarter hours; how many rows went."""
        return _wait(self.soon.thin(before), LONG_WAIT_SECONDS)

    def prune(self, before: datetime) -> int:
        """Drop events and requests from before a time, and codes expired by then; how many rows."""
        return _wait(self.soon.prune(before), LONG_WAIT_SECONDS)

    def forget_inputs(self, before: datetime) -> int:
        """Drop recorded inputs from before a time; how many parts."""
        return _wait(self.soon.forget_inputs(before), LONG_WAIT_SECONDS)

    def backup(self, path: Path) -> None:
        """A whole copy of the database at `path`; what was there before is replaced only when it is whole."""
        _wait(self.soon.backup(path), LONG_WAIT_SECONDS)


def _wait(future: Future[T], seconds: float = WAIT_SECONDS) -> T:
    try:
        return future.result(seconds)
    except FutureTimeout as fault:
        future.cancel()
        raise StoreError(f"the disk did not answer within {seconds:.0f} s: look at its health") from fault
