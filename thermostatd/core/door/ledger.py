"""What requests are checked against and kept in: the house as it stands, what is remembered, the weeks in force.

Rules: the house is the file's with what the owner said of its heaters since; a week is read anew once it was changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from thermostatd.core.asking import Refused
from thermostatd.core.door.refusing import refuse, shown
from thermostatd.core.house import House, Room
from thermostatd.core.memory import Memory, RequestMemory
from thermostatd.core.placing import placed
from thermostatd.core.results import Event
from thermostatd.core.usual_week import steps_of
from thermostatd.core.week import Week


@dataclass(frozen=True, slots=True)
class Taken:
    """What was accepted: its code, the place it is about, its sentence.

    `kept` is what holds now, where that is a request; `ended` is what was found to be over by the way.
    """

    code: str
    about: str
    said: str
    kept: RequestMemory | None = None
    ended: tuple[Event, ...] = ()


class Ledger:
    """`written` is the house file's, `house` what stands now."""

    def __init__(self, written: House, memory: Memory, weeks: dict[str, Week]) -> None:
        self.written, self.memory, self.weeks = written, memory, weeks
        self.house = placed(written, memory)
        self._zone = ZoneInfo(written.house.timezone)

    def place_anew(self) -> None:
        """The owner said something of a heater."""
        self.house = placed(self.written, self.memory)

    def renew_week(self, room: Room) -> None:
        """Another week was kept for a room, or none any more."""
        self.weeks[room.name] = Week(steps_of(room, self.memory.rooms[room.name].week), self._zone)

    def room(self, name: object) -> Room | Refused:
        """The room of that name, or the refusal."""
        room = self.house.room(name) if isinstance(name, str) else None
        return room if room is not None else refuse("no-such-room", name=shown(name))

    def forget_hands(self, keys: Iterable[str]) -> None:
        """Who asks after a press on the plug's own button has the last word."""
        for key in keys:
            self.memory.heaters[key].hand = None
