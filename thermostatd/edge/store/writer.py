"""The writer thread: one queue, one desk. Whoever hands it work gets a Future.

Rules: the thread outlives every fault of its work; what is batched is written every 60 steady seconds.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import TypeVar

from thermostatd.edge.store.batch import Batch
from thermostatd.edge.store.desk import Desk
from thermostatd.edge.store.rows import StoreError

T = TypeVar("T")
FLUSH_SECONDS = 60.0
"""Between two batches: rows come once a minute, and a memory card wears by what is written."""
AGAIN_SECONDS = 30.0
"""After a batch that could not be written."""
LOOK_SECONDS = 5.0
Job = Callable[[Desk | None], None]
log = logging.getLogger(__name__)


class Writer:
    """Runs work on the desk, in order. Raises StoreError if the database is newer than the program."""

    def __init__(self, path: Path, now: Callable[[], float]) -> None:
        self._now = now
        self._queue: SimpleQueue[Job | None] = SimpleQueue()
        self._opened: Future[Desk] = Future()
        self._closed = False
        self._flushed_at = now()
        self.batch = Batch()
        self._thread = Thread(target=self._run, args=(path,), name="store", daemon=True)
        self._thread.start()
        self.desk = self._opened.result()

    def later(self, work: Callable[[Desk], T]) -> Future[T]:
        """Work for the thread; the Future brings what it returns or raises."""
        future: Future[T] = Future()

        def job(desk: Desk | None) -> None:
            if future.set_running_or_notify_cancel():
                try:
                    if desk is None:
                        raise StoreError("the store is closed")
                    future.set_result(work(desk))
                except Exception as fault:
                    future.set_exception(fault)

        if self._closed:
            job(None)
        else:
            self._queue.put(job)
        return future

    def nudge(self) -> None:
        """Something was added to the batch: wake the thread if it is time to write."""
        if not self._closed and self._due():
            self._flushed_at = self._now()
            self._queue.put(_flush)

    def close(self, wait_seconds: float) -> None:
        """Write what waits and end the thread. Doing it twice does nothing."""
        if not self._closed:
            self._closed = True
            self._queue.put(None)
            self._thread.join(wait_seconds)

    def _due(self) -> bool:
        well = not self._opened.done() or self.desk.book.writing
        wait = FLUSH_SECONDS if well else AGAIN_SECONDS
        return bool(self.batch) and not 0 <= self._now() - self._flushed_at < wait

    def _run(self, path: Path) -> None:
        try:
            desk = Desk(path, self.batch)
        except BaseException as fault:
            self._opened.set_exception(fault)
            return
        self._opened.set_result(desk)
        while (job := self._next()) is not None:
            try:
                job(desk)
            except Exception:
                log.exception("the store's work failed")
        try:
            desk.close()
        except Exception:
            log.exception("the store could not be closed well")
        while not self._queue.empty():  # handed over while closing: nobody waits for ever
            if (late := self._queue.get()) is not None:
                late(None)

    def _next(self) -> Job | None:
        while True:
            try:
                return self._queue.get(timeout=LOOK_SECONDS)
            except Empty:
                if self._due():
                    self._flushed_at = self._now()
                    return _flush


def _flush(desk: Desk | None) -> None:
    if desk is not None:
        desk.flush()
