"""What was heard and not yet read: the latest message of each topic, in the order of arrival.

Rules: bounded whatever is sent to us: a flood on one topic replaces itself and pushes nothing else out;
a payload over 16 KiB is named and thrown away; a retained message does not replace a live one.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

LARGEST_PAYLOAD_BYTES = 16 * 1024
MOST_TOPICS = 4096


@dataclass(frozen=True, slots=True)
class Heard:
    """One message, arrived at the steady second `at`; `refused` says why its payload was thrown away."""

    topic: str
    payload: bytes
    retained: bool
    at: float
    refused: str | None = None


def heard(topic: str, payload: bytes, retained: bool, at: float) -> Heard:
    """A message as it is kept: without its payload where that is larger than 16 KiB."""
    if len(payload) <= LARGEST_PAYLOAD_BYTES:
        return Heard(topic, payload, retained, at)
    why = f"a payload of {len(payload)} bytes, over the {LARGEST_PAYLOAD_BYTES} that are read"
    return Heard(topic, b"", retained, at, why)


class Inbox:
    """Filled by the network's thread, emptied by the daemon's."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[tuple[str, bool], Heard] = {}
        self.dropped = 0
        """Messages thrown away because more than 4096 topics were waiting."""

    def put(self, message: Heard) -> None:
        """Keep a message in the place of the last one of its topic."""
        key = (message.topic, message.retained)
        with self._lock:
            if self._latest.pop(key, None) is None and len(self._latest) >= MOST_TOPICS:
                self.dropped += 1
                return
            self._latest[key] = message

    def drain(self) -> list[Heard]:
        """All that waits, oldest first; afterwards nothing waits."""
        with self._lock:
            waiting, self._latest = list(self._latest.values()), {}
        return waiting
