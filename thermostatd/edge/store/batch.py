"""What waits for the next write: the latest memory, and rows up to a bound.

Rules: adding never blocks and never fails; what a full or broken disk holds up is kept up to a bound,
then the oldest goes and is counted; the memory of the later call wins, whichever arrives first.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from threading import Lock

Values = tuple[object, ...]
MOST_ROWS = 20_000
KINDS = ("event", "minute", "heater", "touch", "segment", "input", "learning", "told")
FEWER = {"input": 300, "segment": 30, "learning": 1, "told": 1}  # their rows are large


@dataclass
class Taken:
    """One batch as it goes to the disk: rows by kind, and the memory with its number."""

    rows: dict[str, list[Values]] = field(default_factory=dict)
    memory: tuple[int, Values] | None = None

    def __bool__(self) -> bool:
        return self.memory is not None or any(self.rows.values())


class Batch:
    """Rows and memory between two writes; any thread may add, the writer takes."""

    def __init__(self, most_rows: int = MOST_ROWS) -> None:
        self._lock = Lock()
        self._rows: dict[str, deque[Values]] = {
            kind: deque(maxlen=min(most_rows, FEWER.get(kind, most_rows))) for kind in KINDS
        }
        self._memory: tuple[int, Values] | None = None
        self.dropped = 0

    def __bool__(self) -> bool:
        return self._memory is not None or any(self._rows.values())

    def holds(self, kinds: Iterable[str]) -> bool:
        """Whether rows of these kinds wait."""
        return any(self._rows[kind] for kind in kinds)

    def add(self, kind: str, rows: list[Values]) -> None:
        """Rows to be written."""
        with self._lock:
            waiting = self._rows[kind]
            if kind not in ("learning", "told"):  # there the later replaces the earlier
                self.dropped += max(0, len(waiting) + len(rows) - (waiting.maxlen or 0))
            waiting.extend(rows)

    def remember(self, number: int, memory: Values) -> None:
        """The memory to be written, unless a later one waits already."""
        with self._lock:
            if self._memory is None or number > self._memory[0]:
                self._memory = (number, memory)

    def take(self) -> Taken:
        """Everything that waits; it waits no more."""
        with self._lock:
            taken = Taken({kind: list(rows) for kind, rows in self._rows.items()}, self._memory)
            self._memory = None
            for rows in self._rows.values():
                rows.clear()
            return taken

    def give_back(self, taken: Taken) -> None:
        """What could not be written waits again, before what came since."""
        for kind, rows in taken.rows.items():
            with self._lock:
                since = list(self._rows[kind])
                self._rows[kind].clear()
            self.add(kind, rows + since)
        if taken.memory is not None:
            self.remember(*taken.memory)
