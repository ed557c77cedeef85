"""Delivers letters to the owner's addresses, from an outbox's thread.

Rules: an address that fails is tried some times more, then later again (owed.py);
one that takes no notices is said once, until it takes one.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from thermostatd.edge.notices.addresses import kind_of, taken, target_of
from thermostatd.edge.notices.outbox import Outbox
from thermostatd.edge.notices.owed import Owed

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
        self._failing: set[int] = set()
        self.outbox = Outbox[Letter]("letters", self._deliver, self._missed)

    @property
    def kinds(self) -> tuple[str, ...]:
        """What may be shown of each address."""
        return tuple(kind for kind, _ in self._targets)

    def try_out(self, letter: Letter) -> list[tuple[str, bool]]:
        """Send a letter to each address, now; its kind, and whether it was taken."""
        return [(kind, _took(target, letter)) for kind, target in self._targets]

    def hand_over(self, letters: Sequence[Letter]) -> None:
        """To be delivered in turn; returns at once."""
        self.outbox.hand_over(letters)

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        self.outbox.close(wait_seconds)

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

    def _missed(self, letter: Letter) -> None:
        self._owed.missed(letter.about)

    def _tried(self, left: dict[int, Any], letter: Letter) -> dict[int, Any]:
        """Those that did not take it, for all the tries that there was time for."""
        for wait in (0.0, *self._waits):
            if wait and self.outbox.ended_within(wait):
                break
            left = {place: target for place, target in left.items() if not _took(target, letter)}
            if not left:
                break
        return left


def _took(target: Any, letter: Letter) -> bool:
    return taken(target, letter.title, letter.body, good=letter.good)
