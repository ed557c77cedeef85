"""The whole decision, pure: reading → target → demand → pace → guard → order → record.

`Regulator.step` is those seven calls; `Regulator.do` is the one door for what people ask. Given the same
memory and the same inputs it gives the same orders; it reads no clock and touches nothing outside.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core import tariff
from thermostatd.core.asking import Answer, Request
from thermostatd.core.clock import Now, settle
from thermostatd.core.door import Door
from thermostatd.core.following import Followed, follow, settle_in
from thermostatd.core.guard import guard, no_answer
from thermostatd.core.house import House, UsualStep
from thermostatd.core.leap import is_proven
from thermostatd.core.limits import keep_to_limits
from thermostatd.core.memory import HeaterMemory, Memory, RoomMemory, WeekMemory
from thermostatd.core.meter import levels
from thermostatd.core.opened import take_openings
from thermostatd.core.order import orders
from thermostatd.core.pace import pace
from thermostatd.core.reading import read
from thermostatd.core.reasons import sentence
from thermostatd.core.record import record
from thermostatd.core.remembering import from_plain, to_plain
from thermostatd.core.results import Event, Result
from thermostatd.core.target import bring_forward, targets
from thermostatd.core.usual_week import steps_of
from thermostatd.core.values import Moment, Observation
from thermostatd.core.wanting import wanting
from thermostatd.core.week import Week


class Regulator:
    """Decides for one house. `memory` is what another Regulator left: this one goes on from there."""

    def __init__(self, house: House, memory: Mapping[str, Any] | None = None) -> None:
        """ValueError if the memory cannot be read."""
        self._memory = from_plain(dict(memory) if memory is not None else None)
        self.followed = follow(self._memory, house)
        _fit(self._memory, house)
        self._zone = ZoneInfo(house.house.timezone)
        self._prices = tariff.Prices(house)
        self._weeks = {
            room.name: Week(steps_of(room, self._memory.rooms[room.name].week), self._zone)
            for room in house.rooms
        }
        self._door = Door(house, self._memory, self._weeks)
        self.tell(self.followed)
        for key, heater, _ in self.house.heaters():
            levels.set_anew(self._memory.heaters[key].facts, heater.watts)

    @property
    def house(self) -> House:
        """The house as it stands: the file's, with what the owner said was moved or turned by hand."""
        return self._door.house

    def step(self, moment: Moment, seen: Observation) -> Result:
        """One tick: what came in, and what every plug is told for it."""
        house, memory = self.house, self._memory
        now, happened = self._now(moment)
        happened += keep_to_limits(house, memory, now)
        happened += take_openings(house, memory, seen, now)
        readings = read(house, memory, seen, now)
        wanted, ended = targets(house, memory, self._weeks, now)
        wants, judged = wanting(house, memory, readings, wanted, self._prices, now)
        paced = pace(house, memory, wants, readings, now)
        guarded = guard(house, memory, readings, judged, paced, now, seen.stopping)
        told, switched = orders(house, memory, guarded, now)
        events = [*happened, *readings.events, *ended, *switched]
        return record(house, memory, readings, wanted, wants, paced, guarded, told, now, events)

    def do(self, moment: Moment, request: Request) -> Answer:
        """Accepted, and it holds from the next step on; or Refused, and nothing changed."""
        now, happened = self._now(moment, stepping=False)
        self._door.events += happened
        return self._door.take(request, now)

    def tell(self, found: Followed) -> None:
        """Say in the record what bears another name now, and what nothing follows."""
        told = [Event("follows", new, sentence("follows", before=old)) for old, new in found.names.items()]
        self._door.events += told + [Event("left-file", name, sentence("left-file")) for name in found.gone]

    def likeliest(self, moment: Moment) -> Moment:
        """That moment with the likeliest wall time: what is recorded goes by it where the clock is doubted."""
        clock = self._memory.clock
        if clock.doubted_since is None or clock.frozen_wall is None:
            return moment
        wall = clock.frozen_wall + moment.steady - clock.doubted_since
        return Moment(datetime.fromtimestamp(wall, UTC), moment.steady)

    @property
    def wall_proven(self) -> bool:
        """Whether what is old by the wall clock may be thrown away: it did not leap by days lately."""
        return is_proven(self._memory.clock)

    def adopt(self, models: Mapping[str, Mapping[str, Any]]) -> None:
        """Use what `fit` learned: a room's model replaces its old one; rooms not in it keep theirs."""
        for name, model in models.items():
            if name in self._memory.rooms:
                self._memory.models[name] = dict(model)

    def ask_anew(self, heater: str) -> None:
        """Let the check whether a room's air answers its heater begin anew, as for a replay in which no air can answer.

        What has latched stays latched, for a person to look at.
        """
        notes = self._memory.heaters[heater].notes
        if not notes.get(no_answer.CODE, {}).get("latched"):
            notes.pop(no_answer.CODE, None)

    def week_ahead(self, room: str, moment: Moment, days: int = 2) -> list[tuple[float, float]]:
        """The usual week's coming steps of a room: Unix seconds and °C."""
        return self._weeks[room].ahead(moment.wall, days)

    def usual_week(self, room: str) -> tuple[tuple[UsualStep, ...], WeekMemory | None]:
        """The usual week in force in a room; and who put it over the house file's, when, where someone did."""
        kept = self._memory.rooms[room].week
        found = self.house.room(room)
        return (steps_of(found, kept) if found else ()), kept

    def operations(self) -> dict[str, int]:
        """Switchings ordered of each heater's relay since the memory began."""
        return {key: kept.operations for key, kept in self._memory.heaters.items()}

    @property
    def memory(self) -> dict[str, Any]:
        """All that another Regulator needs to go on, JSON-able, under 4 kB a room."""
        return to_plain(self._memory)

    def _now(self, moment: Moment, *, stepping: bool = True) -> tuple[Now, list[Event]]:
        """This step's time; what people asked since the last step comes first among the events."""
        doubted = self._memory.clock.doubted_since is not None
        now = settle(self._memory.clock, moment, self._zone, stepping=stepping)
        if now.missed_seconds:
            bring_forward(self._memory, now.missed_seconds)
        happened, self._door.events = self._door.events, []
        if now.doubted and not doubted:
            happened.append(
                Event("clock-doubted", "house", sentence("clock-doubted", minutes=now.jump_seconds / 60))
            )
        elif doubted and not now.doubted:
            happened.append(Event("clock-believed", "house", sentence("clock-believed")))
        return now, happened


def _fit(memory: Memory, house: House) -> None:
    """The memory with a place for every room and heater of this house, and none for what has gone."""
    memory.rooms = {room.name: memory.rooms.get(room.name, RoomMemory()) for room in house.rooms}
    memory.heaters = {key: memory.heaters.get(key, HeaterMemory()) for key, _, _ in house.heaters()}
    memory.spots = {name: request for name, request in memory.spots.items() if house.spot(name)}
    memory.models = {name: model for name, model in memory.models.items() if name in memory.rooms}
    settle_in(memory, house)
