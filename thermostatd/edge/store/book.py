"""The database as the one writer holds it: opened, opened anew, and what is known of the disk.

Rules: damage, a vanished file or a lost disk is met by opening anew, and said in `notes`; what is known of memory and
devices is carried over; where nothing can be written, what was there can still be read.
"""

from __future__ import annotations

import logging
import sqlite3
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.store import opening, people
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Values
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


class Book:
    """Used by the writer's thread alone, but for what it tells: `writing`, `why_not`, `notes`, `devices`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.writing = True
        self.why_not = ""
        self.notes: deque[str] = deque(maxlen=20)
        self.devices: dict[str, DeviceRow] = {}
        self.memory: tuple[int, Values] = (-1, ())
        """The number and row of the last memory that was written."""
        self._real = False
        self._stuck = False
        self._inode = -1
        self._connection = self._opened()

    def read(self, work: Work[T]) -> T:
        """StoreError if the database cannot be read."""
        try:
            return work(self._connection)
        except sqlite3.Error as fault:
            if opening.is_damage(fault) and self._real:
                self._heal(fault)
                return work(self._connection)
            raise StoreError(f"the store cannot be read: {fault}") from fault

    def write(self, work: Work[T], strength: str) -> T:
        """All of it in one transaction, or nothing. StoreError, sqlite3.Error, OSError where that cannot be."""
        self._ready()
        if not self._real:
            raise StoreError(f"nothing can be stored: {self.why_not}")
        return self._twice(lambda: self._transaction(work, strength))

    def note(self, words: str) -> None:
        """Say it to the owner's page and to the log."""
        self.notes.append(words)
        log.warning("%s", words)

    def unwell(self, fault: Exception) -> None:
        """It could not be written."""
        code = getattr(fault, "sqlite_errorcode", None)
        why = _WHY.get(code & 0xFF if code is not None else -1, "the database cannot be written")
        # after a full disk the connection is sound; after anything else a fresh one may do better
        self._stuck = code is None or code & 0xFF not in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY)
        if self.writing:
            self.note(f"The store does not write: {why} ({fault}).")
        self.writing, self.why_not = False, f"{why} ({fault})"

    def _well(self) -> None:
        if not self.writing:
            self.note("The store writes again.")
        self.writing, self.why_not, self._stuck = True, "", False

    def see_devices(self) -> None:
        """Devices may have changed."""
        self.devices = people.devices(self._connection)

    def close(self) -> None:
        """Bring the log in, close."""
        with suppress(sqlite3.Error):
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._connection.close()

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

    def _opened(self) -> sqlite3.Connection:
        try:
            connection = self._writable()
            self._real, self._stuck, self._inode = True, False, self.path.stat().st_ino
        except (sqlite3.Error, OSError) as fault:
            connection = opening.open_readable(self.path)
            self._real = False
            self.unwell(fault)
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
        self.note(f"The database was damaged ({fault}): it is now {aside.name}, a new one began, {carried}.")
        return connection

    def _open_anew(self) -> None:
        with suppress(sqlite3.Error):
            self._connection.close()
        try:
            self._connection = self._opened()
        except StoreError as fault:  # exchanged for one of a newer program, while in use
            self._connection, self._real = opening.open_empty(), False
            self.unwell(fault)

    def _retry(self) -> None:
        try:
            connection = self._writable()
        except (sqlite3.Error, OSError, StoreError) as fault:
            self.unwell(fault)
            return
        self._connection.close()
        self._connection, self._real, self._inode = connection, True, self.path.stat().st_ino
        self.devices = people.devices(connection)

    def _ready(self) -> None:
        """Before a write: the file is the one that was opened, and can be written as far as is known."""
        if not self._real:
            self._retry()
        elif not self._still_there():
            self.note("The database file was removed or exchanged while in use; it was opened anew.")
            known = self._known()
            self._open_anew()
            if self._real and not self.devices:
                opening.put_back(self._connection, known)
                self.see_devices()
        elif self._stuck:
            self._open_anew()

    def _known(self) -> opening.Kept:
        packed = tuple(people.packed_device(device) for device in self.devices.values())
        return opening.Kept(self.memory[1] or None, packed)

    def _still_there(self) -> bool:
        try:
            return self.path.stat().st_ino == self._inode
        except OSError:
            return False

    def _heal(self, fault: sqlite3.Error) -> None:
        with suppress(sqlite3.Error):
            self._connection.close()
        try:
            self._connection = self._replaced(str(fault))
            self._inode = self.path.stat().st_ino
            self.see_devices()
        except (sqlite3.Error, OSError, StoreError):
            self._open_anew()
