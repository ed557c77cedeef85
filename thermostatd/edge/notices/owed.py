"""What the owner is still to be told: notices of troubles that hold, handed over and not known to have arrived.

Rules: each is owed from when it is handed over until it was delivered, or its trouble ended; what is owed is due again
every ten minutes for an hour, then every hour, and at once after a restart. Seconds are steady.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from threading import Lock
from typing import Any

SOON_SECONDS, LATER_SECONDS = 600.0, 3600.0


@dataclass(slots=True)
class _Debt:
    since: float
    last: float
    on_its_way: bool = False
    places: tuple[int, ...] = ()
    """The addresses that have not had it, by their order; empty: all."""


class Owed:
    """Debts by the id of their trouble; used by the tick and by the thread that delivers."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._debts: dict[str, _Debt] = {}

    def handed(self, key: str, now: float) -> None:
        """A notice is on its way."""
        with self._lock:
            debt = self._debts.setdefault(key, _Debt(now, now))
            debt.last, debt.on_its_way = now, True

    def delivered(self, key: str) -> None:
        """It arrived everywhere."""
        with self._lock:
            self._debts.pop(key, None)

    def missed(self, key: str, places: Iterable[int] = ()) -> None:
        """It did not arrive, at these addresses where there are several."""
        with self._lock:
            if key in self._debts:
                self._debts[key].places, self._debts[key].on_its_way = tuple(places), False

    def places(self, key: str) -> tuple[int, ...]:
        """The addresses that a notice is owed to; empty: all."""
        with self._lock:
            return self._debts[key].places if key in self._debts else ()

    def due(self, holding: Iterable[str], now: float) -> list[str]:
        """Those to be handed over again; what does not hold any more is owed no more."""
        with self._lock:
            held = set(holding)
            self._debts = {key: debt for key, debt in self._debts.items() if key in held}
            return [
                key for key, debt in self._debts.items() if not debt.on_its_way and now - debt.last >= _wait(debt)
            ]

    def plain(self) -> dict[str, Any]:
        """JSON-able; it changes only with a delivery or a try."""
        with self._lock:
            return {key: [debt.since, list(debt.places)] for key, debt in self._debts.items()}

    def resume(self, kept: Mapping[str, Any]) -> None:
        """Go on by an earlier life's `plain`. TypeError, ValueError, AttributeError for what is none."""
        with self._lock:
            self._debts = {
                str(key): _Debt(float(since), -math.inf, places=tuple(int(place) for place in places))
                for key, (since, places) in kept.items()
            }


def _wait(debt: _Debt) -> float:
    return SOON_SECONDS if debt.last - debt.since < LATER_SECONDS else LATER_SECONDS
