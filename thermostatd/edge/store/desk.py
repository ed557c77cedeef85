"""The writer's desk: what the one writer thread does with the book, in batches or at once.

Rules: batched rows go with synchronous NORMAL and fail softly, to be tried again; what is acknowledged goes
with FULL or raises; a memory is never written over a later one.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.store import history, inputs, packing, renaming
from thermostatd.edge.store import statements as sql
from thermostatd.edge.store.batch import Batch, Taken, Values
from thermostatd.edge.store.book import Book, Work
from thermostatd.edge.store.rows import StoreError

T = TypeVar("T")


class Desk:
    """All that touches the database; `book` tells whether rows reach the disk."""

    def __init__(self, path: Path, batch: Batch) -> None:
        self.book, self.batch = Book(path), batch

    def read(self, work: Work[T], waits: tuple[str, ...] = ()) -> T:
        """Read, after what waits of these kinds was written. StoreError if the database cannot be read."""
        if waits and self.batch.holds(waits):
            self.flush()
        return self.book.read(work)

    def durable(self, work: Work[T]) -> T:
        """Write so that a power cut loses nothing of it, or raise StoreError."""
        try:
            return self.book.write(work, sql.DURABLE)
        except (sqlite3.Error, OSError) as fault:
            self.book.unwell(fault)
            raise StoreError(f"nothing can be stored: {self.book.why_not}") from fault

    def commit(self, number: int, memory: Values, request: Values) -> None:
        """A request and the memory that it left, durable together."""

        def work(connection: sqlite3.Connection) -> None:
            connection.execute(sql.REQUEST_PUT, request)
            self._put_memory(connection, number, memory)

        self.durable(work)
        self._written(number, memory)

    def keep(self, number: int, memory: Values) -> None:
        """A memory, durable at once, unless a later one was written."""
        if number > self.book.memory[0]:
            self.durable(lambda connection: self._put_memory(connection, number, memory))
            self._written(number, memory)

    def rename(self, number: int, memory: Values, names: Mapping[str, str]) -> None:
        """The record goes by new names, durable together with the memory that does."""

        def work(connection: sqlite3.Connection) -> None:
            renaming.rename(connection, names)
            self._put_memory(connection, number, memory)

        self.flush()  # what waits has the old names
        self.durable(work)
        self._written(number, memory)
        self.book.see_devices()

    def change_people(self, work: Work[T]) -> T:
        """Change codes or devices, durable at once."""
        answer = self.durable(work)
        self.book.see_devices()
        return answer

    def flush(self) -> bool:
        """Write what waits; False, and it waits on, if that is impossible now."""
        taken = self.batch.take()
        if not taken:
            return self.book.writing
        try:
            self.book.write(lambda connection: self._put(connection, taken), sql.BATCHED)
        except StoreError:
            self.batch.give_back(taken)
            return False
        except (sqlite3.OperationalError, OSError) as fault:
            self.book.unwell(fault)
            self.batch.give_back(taken)
            return False
        except (sqlite3.Error, OverflowError) as fault:
            self.book.note(f"A batch that SQLite refused was dropped: {fault}.")
            return False
        if taken.memory is not None:
            self._written(*taken.memory)
        if taken.rows.get("touch"):
            self.book.see_devices()
        return True

    def _put(self, connection: sqlite3.Connection, taken: Taken) -> None:
        history.put_rows(connection, taken.rows)
        inputs.put_rows(connection, taken.rows)
        if taken.memory is not None:
            self._put_memory(connection, *taken.memory)

    def _put_memory(self, connection: sqlite3.Connection, number: int, memory: Values) -> None:
        if number > self.book.memory[0]:
            connection.execute(sql.MEMORY_PUT, packing.memory_row(memory))

    def _written(self, number: int, memory: Values) -> None:
        if number > self.book.memory[0]:
            self.book.memory = (number, memory)

    def close(self) -> None:
        """Write what waits, and close the book."""
        if self.batch:
            self.flush()
        self.book.close()
