"""What waits to be delivered, and the thread that delivers it, one after the other.

Rules: whoever hands something over never waits; of too much the oldest goes, and is told to `missed`; so is what fails
with an error, which is logged, and the next goes on.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Sequence
from threading import Condition, Thread
from typing import Generic, TypeVar

MOST_WAITING = 64
Item = TypeVar("Item")
log = logging.getLogger(__name__)


class Outbox(Generic[Item]):
    """`deliver` runs in the thread, which begins with the first item; `dropped` counts what was too much."""

    def __init__(
        self,
        name: str,
        deliver: Callable[[Item], None],
        missed: Callable[[Item], None],
        most_waiting: int = MOST_WAITING,
    ) -> None:
        self._name, self._deliver, self._missed, self._most = name, deliver, missed, most_waiting
        self._waiting: deque[Item] = deque(maxlen=most_waiting)
        self._changed = Condition()
        self._busy = self._closed = False
        self._thread: Thread | None = None
        self.dropped = 0

    @property
    def idle(self) -> bool:
        """Whether all that was handed over was tried."""
        return not self._waiting and not self._busy

    def hand_over(self, items: Sequence[Item]) -> None:
        """To be delivered in turn; returns at once."""
        with self._changed:
            over = max(0, len(self._waiting) + len(items) - self._most)
            for item in [*self._waiting, *items][:over]:
                self._missed(item)
            self.dropped += over
            self._waiting.extend(items)
            self._changed.notify_all()
        if self._thread is None and not self._closed:
            self._thread = Thread(target=self._run, name=self._name, daemon=True)
            self._thread.start()

    def ended_within(self, seconds: float) -> bool:
        """Wait so long, or until it is closed; whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: self._closed, seconds)

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        with self._changed:
            self._changed.wait_for(lambda: self.idle, wait_seconds)
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(wait_seconds)

    def _run(self) -> None:
        while (item := self._next()) is not None:
            try:
                self._deliver(item)
            except Exception:
                log.exception("a notice could not be sent")
                self._missed(item)

    def _next(self) -> Item | None:
        """The next item, once there is one; None at the end."""
        with self._changed:
            self._busy = False
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._closed or self._waiting)
            if self._closed:
                return None
            self._busy = True
            return self._waiting.popleft()
