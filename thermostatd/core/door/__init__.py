"""The one door: every request is checked here against types and the owner's limits, then kept or refused.

Rules: a refusal changes nothing and says why with the limit; who asked, from where, when and what it replaced are
kept. Each kind of request is a function of a file here, which takes the ledger, the request and the time, and gives
`Taken` or `Refused`; `_TAKES` names them all.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from thermostatd.core.asking import (
    Accepted,
    AllOff,
    Answer,
    Ask,
    Cancel,
    Out,
    Refused,
    Request,
    RoomOff,
    Seen,
    SetTo,
    Stands,
    Undo,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.clock import Now
from thermostatd.core.door import everyone, owners, rooms, spots, taking_back
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.refusing import refuse
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.results import Event
from thermostatd.core.target import end_requests
from thermostatd.core.undoing import held, remember_change
from thermostatd.core.week import Week

__all__ = ["Door", "refuse"]
_TAKES: dict[type, Callable[[Ledger, Any, Now], Taken | Refused]] = {
    Ask: rooms.ask,
    RoomOff: rooms.turn_off,
    UsualWeek: rooms.change_week,
    WarmMe: spots.warm,
    Out: everyone.out,
    AllOff: everyone.all_off,
    Cancel: taking_back.cancel,
    Undo: taking_back.undo,
    Seen: owners.seen,
    Stands: owners.stands,
    SetTo: owners.set_to,
}


class Door:
    """Takes requests into a memory. `events`: what was accepted, or found to be over, since it was last emptied."""

    def __init__(self, house: House, memory: Memory, weeks: dict[str, Week]) -> None:
        self._ledger, self._memory = Ledger(house, memory, weeks), memory
        self._spots = tuple(spot.name for spot in house.spots)
        self.events: list[Event] = []

    @property
    def house(self) -> House:
        """The house as it stands: the file's, with what the owner said since."""
        return self._ledger.house

    def take(self, request: Request, now: Now) -> Answer:
        """Accepted with what now holds, or Refused with why and the limit."""
        take = _TAKES.get(type(request))
        if take is None:
            return refuse("not-understood", what=f"{type(request).__name__} is no request")
        self.events += end_requests(self._memory, now)
        before = held(self._memory, self._spots)
        taken = take(self._ledger, request, now)
        if isinstance(taken, Refused):
            return taken
        self.events += [*taken.ended, Event(taken.code, taken.about, taken.said)]
        if isinstance(request, Undo):
            return _accepted(taken, None)
        return _accepted(taken, remember_change(self._memory, before, held(self._memory, self._spots), now))


def _accepted(taken: Taken, change: int | None) -> Accepted:
    kept = taken.kept
    if kept is None:
        return Accepted(taken.said, change=change)
    until = datetime.fromtimestamp(kept.until_wall, UTC) if kept.until_wall is not None else None
    return Accepted(taken.said, kept.celsius, until, kept.replaced, change)
