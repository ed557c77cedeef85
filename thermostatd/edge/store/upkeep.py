"""Upkeep that takes long: thinning in pieces, and a backup that is whole or not there at all."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from thermostatd.edge.store import history
from thermostatd.edge.store.batch import KINDS
from thermostatd.edge.store.desk import Desk
from thermostatd.edge.store.rows import StoreError
from thermostatd.edge.store.writer import Writer

T = TypeVar("T")


def thin(writer: Writer, before: datetime) -> Future[int]:
    """Minutes before a time become quarter hours, a day at a time, each in its own transaction.

    Each day is its own piece of work in the queue, so that a person's request never waits for long.
    """
    whole: Future[int] = Future()
    whole.set_running_or_notify_cancel()
    first = writer.later(
        lambda desk: desk.read(lambda c: list(history.chunks_before(c, before)), ("minute", "heater"))
    )

    def step(ends: list[int], went: int) -> None:
        if not ends:
            whole.set_result(went)
            return
        end = ends.pop(0)
        piece = writer.later(lambda desk: desk.durable(lambda c: history.thin_chunk(c, end)))
        _then(piece, whole, lambda more: step(ends, went + more))

    _then(first, whole, lambda ends: step(ends, 0))
    return whole


def _then(done: Future[T], whole: Future[int], go_on: Callable[[T], None]) -> None:
    def settled(future: Future[T]) -> None:
        try:
            go_on(future.result())
        except Exception as fault:
            whole.set_exception(fault)

    done.add_done_callback(settled)


def backup(desk: Desk, path: Path) -> None:
    """A whole copy of the database at `path`, on the disk when this returns; StoreError if impossible."""
    partial = Path(f"{path}.partial")
    try:
        partial.unlink(missing_ok=True)
        with closing(sqlite3.connect(partial, isolation_level=None)) as target:
            desk.read(lambda connection: connection.backup(target), KINDS)
            target.execute("PRAGMA journal_mode = DELETE")
        with partial.open("rb+") as file:
            os.fsync(file.fileno())
        partial.replace(path)
    except (OSError, sqlite3.Error) as fault:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
        raise StoreError(f"no backup could be made at {path}: {fault}") from fault
