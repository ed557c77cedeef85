"""Delivers letters to the owner's addresses, from a thread of its own.

Rules: whoever hands one over never waits; an address that fails is tried some times more, then later again (owed.py);
one that takes no notices is said once, until it takes one.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Condition, Thread
from typing import Any

from thermostatd.edge.notices.addresses import kind_of, taken, target_of
from thermostatd.edge.notices.owed import Owed

MOST_WAITING = 64
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Letter:
    """One notice. `loud` goes out in quiet hours, too."""

    title: str
    body: str
    loud: bool = False
    good: bool = False
    about: str = ""
    """The trouble that begins or holds; empty for an end."""


class Post:
    """What is handed over and cannot be delivered, or is too much, is told to `owed`."""

    def __init__(self, addresses: Sequence[str], waits_seconds: Sequence[float], owed: Owed) -> None:
        """AddressError where an address is none, or the library is not installed."""
        self._targets = [(kind_of(address), target_of(address)) for address in addresses]
        self._waits, self._owed = tuple(waits_seconds), owed
        self._waiting: deque[Letter] = deque(maxlen=MOST_WAITING)
        self._changed = Condition()
        self._failing: set[int] = set()
        self._busy = self._closed = False
        self._thread: Thread | None = None

    @property
    def kinds(self) -> tuple[str, ...]:
        """What may be shown of each address."""
        return tuple(kind for kind, _ in self._targets)

    def try_out(self, letter: Letter) -> list[tuple[str, bool]]:
        """Send a letter to each address, now; its kind, and whether it was taken."""
        return [(kind, _took(target, letter)) for kind, target in self._targets]

    def hand_over(self, letters: Sequence[Letter]) -> None:
        """To be delivered in turn; returns at once."""
        with self._changed:
            over = max(0, len(self._waiting) + len(letters) - MOST_WAITING)
            for letter in [*self._waiting, *letters][:over]:
                self._owed.missed(letter.about)
            self._waiting.extend(letters)
            self._changed.notify_all()
        if self._thread is None and not self._closed:
            self._thread = Thread(target=self._run, name="letters", daemon=True)
            self._thread.start()

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        with self._changed:
            self._changed.wait_for(lambda: not self._waiting and not self._busy, wait_seconds)
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(wait_seconds)

    def _run(self) -> None:
        while (letter := self._next()) is not None:
            try:
                self._deliver(letter)
            except Exception:
                log.exception("a notice could not be sent")
                self._owed.missed(letter.about)

    def _next(self) -> Letter | None:
        """The next letter, once there is one; None at the end."""
        with self._changed:
            self._busy = False
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._closed or self._waiting)
            if self._closed:
                return None
            self._busy = True
            return self._waiting.popleft()

    def _deliver(self, letter: Letter) -> None:
        """To every address that is owed it."""
        owed_to = set(self._owed.places(letter.about)) & set(range(len(self._targets)))
        places = {place: target for place, (_, target) in enumerate(self._targets)}
        left = self._tried({place: one for place, one in places.items() if not owed_to or place in owed_to}, letter)
        for place, kind in enumerate(self.kinds):
            if place in left and place not in self._failing:
                log.warning("the %s address on line %d takes no notices", kind, place + 1)
        self._failing = set(left)
        if left:
            self._owed.missed(letter.about, left)
        else:
            self._owed.delivered(letter.about)

    def _tried(self, left: dict[int, Any], letter: Letter) -> dict[int, Any]:
        """Those that did not take it, for all the tries that there was time for."""
        for wait in (0.0, *self._waits):
            if wait and self._ended_within(wait):
                break
            left = {place: target for place, target in left.items() if not _took(target, letter)}
            if not left:
                break
        return left

    def _ended_within(self, seconds: float) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self._closed, seconds)


def _took(target: Any, letter: Letter) -> bool:
    return taken(target, letter.title, letter.body, good=letter.good)
