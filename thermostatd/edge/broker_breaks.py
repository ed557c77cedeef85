"""Connections to the broker that break again and again, or that another program takes over.

Rules: what is told by a link that flaps would switch a contact with each break, so after a takeover, or after some
losses within a minute, the link rests for minutes; the trouble holds until it has stood for longer than that.
Seconds here are the network's, never the house's.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable

TAKEN_OVER = 0x8E
"""Session taken over (MQTT 5, 3.14.2.1): another connection came with the same client id."""
MOST_LOSSES, WITHIN_SECONDS = 3, 60.0
REST_SECONDS = 300.0


class Breaks:
    """The losses of one link. `now` gives seconds that never jump."""

    def __init__(self, rest_seconds: float = REST_SECONDS, now: Callable[[], float] = time.monotonic) -> None:
        self._rest, self._now = rest_seconds, now
        self._losses: deque[float] = deque(maxlen=MOST_LOSSES)
        self._until = self._told_until = float("-inf")
        self._code = ""

    def lost(self, *, taken: bool) -> None:
        """A connection that stood is lost; `taken`: by another program with its client id."""
        now = self._now()
        self._losses.append(now)
        many = len(self._losses) == MOST_LOSSES and now - self._losses[0] <= WITHIN_SECONDS
        if taken or many:
            # Who took it rests as long as we do, and then it is our turn: the trouble outlasts that.
            self._until, self._told_until = now + self._rest, now + 3.0 * self._rest
            self._code = "client-id-taken" if taken else "link-breaks"
            self._losses.clear()

    @property
    def wait_seconds(self) -> float:
        """How long the next connection has to wait yet."""
        return max(0.0, self._until - self._now())

    @property
    def code(self) -> str | None:
        """The trouble's code while it holds, else None."""
        return self._code if self._now() < self._told_until else None
