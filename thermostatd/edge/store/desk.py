"""The writer's desk: the one connection, used by the one writer thread alone.

Rules: batched rows go with synchronous NORMAL and fail softly, to be tried again; what is acknowledged goes
with FULL or raises; damage, a vanished file or a lost disk is met by opening anew, and said in `notes`.
"""

from __future__ import annotations

import logging
import sqlite3
from collections import deque
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.store import history, inputs, opening, packing, people, renaming
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Batch, Taken, Values
from thermostatd.edge.store.rows import DeviceRow, StoreError

T = TypeVar("T")
Work = Callable[[sqlite3.Connection], T]

_WHY = {
    sqlite3.SQLITE_FULL: "the disk is full: make room on it",
    sqlite3.SQLITE_READONLY: "the state folder is read-only: make it writable, or see if the disk fails",
    sqlite3.SQLITE_IOERR: "the disk answers with an error, or is full: look at its space and its health",
    sqlite3.SQLITE_CANTOPEN: "the database cannot be opened: look at the folder's owner, mode and space",
    sqlite3.SQLITE_BUSY: "another program holds the database: close it",
}


log = logging.getLogger("thermostatd.store")


class Desk:
    """All that touches the database. `writing` and `why_not` tell whether rows reach the disk."""

    def __init__(self, path: Path, batch: Batch) -> None:
        self.path = path
        self.batch = batch
        self.writing = True
        self.why_not = ""
        self.notes: deque[str] = deque(maxlen=20)
        self.devices: dict[str, DeviceRow] = {}
        self._memory: tuple[int, Values] = (-1, ())
        self._real = False
        self._stuck = False
        self._inode = -1
        self._connection = self._opened()

    # opening, and opening anew

    def _note(self, words: str) -> None:
        """Say it to the owner's page and to the log."""
        self.notes.append(words)
        log.warning("%s", words)

    def _opened(self) -> sqlite3.Connection:
        try:
            connection = self._writable()
            self._real, self._stuck, self._inode = True, False, self.path.stat().st_ino
        except (sqlite3.Error, OSError) as fault:
            connection = opening.open_readable(self.path)
            self._real = False
            self._unwell(fault)
        self.devices = people.devices(connection)
        return connection

    def _writable(self) -> sqlite3.Connection:
        try:
            return opening.open_writable(self.path)
        except sqlite3.Error as fault:
            if not opening.is_damage(fault):
                raise
            return self._replaced(str(fault))

    def _replaced(self, fault: str) -> sqlite3.Connection:
        kept = opening.salvage(self.path)
        known = self._known()
        kept = opening.Kept(known.memory or kept.memory, known.devices or kept.devices)
        aside = opening.move_aside(self.path)
        connection = opening.open_writable(self.path)
        carried = "memory and devices were carried over" if kept.memory else "no memory could be carried over"
        try:
            opening.put_back(connection, kept)
        except sqlite3.Error:
            carried = "nothing could be carried over"
        self._note(f"The database was damaged ({fault}): it is now {aside.name}, a new one began, {carried}.")
        return connection

    def _open_anew(self) -> None:
        with suppress(sqlite3.Error):
            self._connection.close()
        try:
            self._connection = self._opened()
        except StoreError as fault:  # exchanged for one of a newer program, while in use
            self._connection, self._real = opening.open_empty(), False
            self._unwell(fault)

    def _retry(self) -> None:
        try:
            connection = self._writable()
        except (sqlite3.Error, OSError, StoreError) as fault:
            self._unwell(fault)
            return
        self._connection.close()
        self._connection, self._real, self._inode = connection, True, self.path.stat().st_ino
        self.devices = people.devices(connection)

    def _ready(self) -> None:
        """Before a write: the file is the one that was opened, and can be written as far as is known."""
        if not self._real:
            self._retry()
        elif not self._still_there():
            self._note("The database file was removed or exchanged while in use; it was opened anew.")
            known = self._known()
            self._open_anew()
            if self._real and not self.devices:
                opening.put_back(self._connection, known)
                self.devices = people.devices(self._connection)
        elif self._stuck:
            self._open_anew()

    def _known(self) -> opening.Kept:
        packed = tuple(people.packed_device(device) for device in self.devices.values())
        return opening.Kept(self._memory[1] or None, packed)

    def _still_there(self) -> bool:
        try:
            return self.path.stat().st_ino == self._inode
        except OSError:
            return False

    # what is known of the disk

    def _well(self) -> None:
        if not self.writing:
            self._note("The store writes again.")
        self.writing, self.why_not, self._stuck = True, "", False

    def _unwell(self, fault: Exception) -> None:
        code = getattr(fault, "sqlite_errorcode", None)
        why = _WHY.get(code & 0xFF if code is not None else -1, "the database cannot be written")
        # after a full disk the connection is sound; after anything else a fresh one may do better
        self._stuck = code is None or code & 0xFF not in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY)
        if self.writing:
            self._note(f"The store does not write: {why} ({fault}).")
        self.writing, self.why_not = False, f"{why} ({fault})"

    # the three ways to use it

    def read(self, work: Work[T], waits: tuple[str, ...] = ()) -> T:
        """Read, after what waits of these kinds was written. StoreError if the database cannot be read."""
        if waits and self.batch.holds(waits):
            self.flush()
        try:
            return work(self._connection)
        except sqlite3.Error as fault:
            if opening.is_damage(fault) and self._real:
                self._heal(fault)
                return work(self._connection)
            raise StoreError(f"the store cannot be read: {fault}") from fault

    def durable(self, work: Work[T]) -> T:
        """Write so that a power cut loses nothing of it, or raise StoreError."""
        try:
            self._ready()
            if not self._real:
                raise StoreError(f"nothing can be stored: {self.why_not}")
            return self._twice(lambda: self._transaction(work, sql.DURABLE))
        except (sqlite3.Error, OSError) as fault:
            self._unwell(fault)
            raise StoreError(f"nothing can be stored: {self.why_not}") from fault

    def commit(self, number: int, memory: Values, request: Values) -> None:
        """A request and the memory that it left, durable together."""

        def work(connection: sqlite3.Connection) -> None:
            connection.execute(sql.REQUEST_PUT, request)
            if number > self._memory[0]:
                connection.execute(sql.MEMORY_PUT, packing.memory_row(memory))

        self.durable(work)
        if number > self._memory[0]:
            self._memory = (number, memory)

    def keep(self, number: int, memory: Values) -> None:
        """A memory, durable at once, unless a later one was written."""
        if number > self._memory[0]:
            self.durable(lambda connection: connection.execute(sql.MEMORY_PUT, packing.memory_row(memory)))
            self._memory = (number, memory)

    def rename(self, number: int, memory: Values, names: Mapping[str, str]) -> None:
        """The record goes by new names, durable together with the memory that does."""

        def work(connection: sqlite3.Connection) -> None:
            renaming.rename(connection, names)
            if number > self._memory[0]:
                connection.execute(sql.MEMORY_PUT, packing.memory_row(memory))

        self.flush()  # what waits has the old names
        self.durable(work)
        if number > self._memory[0]:
            self._memory = (number, memory)
        self.devices = people.devices(self._connection)

    def change_people(self, work: Work[T]) -> T:
        """Change codes or devices, durable at once."""
        answer = self.durable(work)
        self.devices = people.devices(self._connection)
        return answer

    def flush(self) -> bool:
        """Write what waits; False, and it waits on, if that is impossible now."""
        taken = self.batch.take()
        if not taken:
            return self.writing
        try:
            self._ready()
            if not self._real:
                raise StoreError(self.why_not)
            self._twice(lambda: self._transaction(lambda c: self._put(c, taken), sql.BATCHED))
        except (sqlite3.OperationalError, OSError, StoreError) as fault:
            if not isinstance(fault, StoreError):
                self._unwell(fault)
            self.batch.give_back(taken)
            return False
        except (sqlite3.Error, OverflowError) as fault:
            self._note(f"A batch that SQLite refused was dropped: {fault}.")
            return False
        if taken.memory is not None and taken.memory[0] > self._memory[0]:
            self._memory = taken.memory
        if taken.rows.get("touch"):
            self.devices = people.devices(self._connection)
        return True

    def _put(self, connection: sqlite3.Connection, taken: Taken) -> None:
        history.put_rows(connection, taken.rows)
        inputs.put_rows(connection, taken.rows)
        if taken.memory is not None and taken.memory[0] > self._memory[0]:
            connection.execute(sql.MEMORY_PUT, packing.memory_row(taken.memory[1]))

    def _transaction(self, work: Work[T], strength: str) -> T:
        connection = self._connection
        connection.execute(strength)
        connection.execute(sql.BEGIN)
        before = connection.total_changes
        try:
            answer = work(connection)
            connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise
        if connection.total_changes > before:  # an empty transaction proves nothing
            self._well()
        return answer

    def _twice(self, act: Callable[[], T]) -> T:
        try:
            return act()
        except sqlite3.DatabaseError as fault:
            if not opening.is_damage(fault):
                raise
            self._heal(fault)
            return act()

    def _heal(self, fault: sqlite3.Error) -> None:
        with suppress(sqlite3.Error):
            self._connection.close()
        try:
            self._connection = self._replaced(str(fault))
            self._inode = self.path.stat().st_ino
            self.devices = people.devices(self._connection)
        except (sqlite3.Error, OSError, StoreError):
            self._open_anew()

    def close(self) -> None:
        """Write what waits, bring the log in, close."""
        if self.batch:
            self.flush()
        with suppress(sqlite3.Error):
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._connection.close()
