"""What the store keeps of each step: events, rooms and heaters by the minute, memory.

Rules: all goes to the disk with the batch; what a person did goes at once, so that a crash loses none of it.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

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
from thermostatd.core.house import House
from thermostatd.core.plug import drawing_floor_watts
from thermostatd.core.reasons import CODES, SENTENCES
from thermostatd.core.results import Event, HeaterResult, Result
from thermostatd.core.said import Said, from_plain, plain_of
from thermostatd.core.values import Missing, Moment, Reading
from thermostatd.edge.store import EventRow, HeaterMinuteRow, MinuteRow, RequestRow, Store

log = logging.getLogger("thermostatd.events")
LONGEST_STEP_SECONDS = 120.0
BY_PEOPLE = frozenset(
    {"asked", "warm-me", "warm-longer", "out", "said-all-off", "cancelled", "undone", "seen", "stands", "set-to"}
    | {"asked-later", "withdrawn", "turned-off", "out-moved", "week-changed", "week-put-back"}
)


@dataclass
class _HeaterMinute:
    on_seconds: float = 0.0
    watt_seconds: float = 0.0
    switches: int = 0
    was_on: bool = False


class Recording:
    """Adds up steps into minutes of the wall clock, and hands them to the store."""

    def __init__(self, house: House, store: Store) -> None:
        self._store = store
        self._assumed = {key: heater.watts for key, heater, _ in house.heaters()}
        self._floors = {key: drawing_floor_watts(heater) for key, heater, _ in house.heaters()}
        self._minutes = {key: _HeaterMinute() for key in self._assumed}
        self._minute: int | None = None
        self._of_minute: Result | None = None
        self._last_steady: float | None = None
        self.joules = dict.fromkeys(self._assumed, 0.0)
        """Energy of each heater since this was made, J."""

    def follow(self, house: House) -> None:
        """Go on with another house; what this minute holds so far is kept."""
        self._assumed = {key: heater.watts for key, heater, _ in house.heaters()}
        self._floors = {key: drawing_floor_watts(heater) for key, heater, _ in house.heaters()}
        self._minutes = {key: self._minutes.get(key, _HeaterMinute()) for key in self._assumed}
        self.joules = {key: self.joules.get(key, 0.0) for key in self._assumed}

    def take(self, moment: Moment, result: Result) -> None:
        """One decided step."""
        for event in result.events:
            log.info("%s %s: %s", event.code, event.about, event.sentence)
        if result.events:
            self._store.add_events([event_row(moment, event) for event in result.events])
        if any(event.code in BY_PEOPLE for event in result.events):
            self._store.soon.flush()
        self._add(moment, result)
        minute = int(moment.wall.timestamp() // 60)
        if self._minute is not None and self._of_minute is not None and minute != self._minute:
            # its own last step: with this one, of the next minute, a step of the week would stand a minute early
            self._store.add_minutes([*self._rooms(self._minute, self._of_minute), *self._heaters(self._minute)])
        self._minute, self._of_minute = minute, result

    def _add(self, moment: Moment, result: Result) -> None:
        last = self._last_steady if self._last_steady is not None else moment.steady
        seconds = min(LONGEST_STEP_SECONDS, max(0.0, moment.steady - last))
        self._last_steady = moment.steady
        for key, heater in _heaters(result).items():
            kept = self._minutes[key]
            if kept.was_on:
                kept.on_seconds += seconds
            energy = seconds * self._watts(key, heater, kept.was_on)
            kept.watt_seconds += energy
            self.joules[key] = self.joules.get(key, 0.0) + energy
            kept.switches += heater.on != kept.was_on
            kept.was_on = heater.on

    def _watts(self, key: str, heater: HeaterResult, on: bool) -> float:
        """Metered power; without a meter what the selector is set to."""
        if heater.watts is None:
            return self._assumed[key] if on else 0.0
        return heater.watts if on or heater.watts > self._floors[key] else 0.0

    def _rooms(self, minute: int, result: Result) -> list[MinuteRow]:
        outdoor = result.house.outdoor
        outside = outdoor.celsius if isinstance(outdoor, Reading) else None
        return [
            MinuteRow(
                minute,
                name,
                None if isinstance(room.air, Missing) else room.air.celsius,
                room.target.celsius,
                outside,
                room.target.whose,
            )
            for name, room in result.rooms.items()
        ]

    def _heaters(self, minute: int) -> list[HeaterMinuteRow]:
        rows = []
        for key, kept in self._minutes.items():
            if kept.on_seconds or kept.watt_seconds or kept.switches:
                rows.append(
                    HeaterMinuteRow(
                        minute, key, round(kept.on_seconds), round(kept.watt_seconds), kept.switches
                    )
                )
            self._minutes[key] = _HeaterMinute(was_on=kept.was_on)
        return rows


def event_row(moment: Moment, event: Event) -> EventRow:
    """An event as it is kept, with what its sentence was made of."""
    told = json.dumps(plain_of(event.sentence, CODES)) if isinstance(event.sentence, Said) else None
    return EventRow(moment.wall, event.code, event.about, event.sentence, told)


def event_sentence(row: EventRow, zone: ZoneInfo) -> str:
    """The sentence of a kept event, able to be said in another language where its making is known."""
    try:
        made = from_plain(
            json.loads(row.told or "null"),
            SENTENCES,
            lambda wall: f"{datetime.fromtimestamp(wall, zone):%H:%M}",
        )
    except (ValueError, KeyError, TypeError, IndexError, OverflowError):
        return row.sentence
    return made if isinstance(made, str) else row.sentence


_KINDS: dict[type, str] = {
    Ask: "ask",
    RoomOff: "room-off",
    WarmMe: "warm-me",
    Out: "out",
    AllOff: "all-off",
    Cancel: "cancel",
    Seen: "seen",
    UsualWeek: "usual-week",
    Undo: "undo",
    Stands: "stands",
    SetTo: "set-to",
}


def request_row(moment: Moment, request: Request, answer: Answer) -> RequestRow:
    """A request as it is kept, with its answer."""
    held = answer if isinstance(answer, Accepted) else None
    return RequestRow(
        wall=moment.wall,
        steady=moment.steady,
        kind=_KINDS[type(request)],
        about=_about(request),
        celsius=held.celsius if held else None,
        until=held.until if held else None,
        who=request.who,
        origin=request.origin,
        answer=answer.sentence,
        code=answer.code if isinstance(answer, Refused) else None,
        replaced=held.replaced if held else None,
    )


def _about(request: Request) -> str:
    match request:
        case Ask() | RoomOff() | UsualWeek():
            return str(request.room)[:80]
        case WarmMe():
            return str(request.spot)[:80]
        case Seen():
            return str(request.trouble)[:160]
        case Stands() | SetTo():
            return str(request.heater)[:160]
        case Cancel():
            return request.what[:80] if isinstance(request.what, str) else "house"
        case _:
            return "house"


def _heaters(result: Result) -> Mapping[str, HeaterResult]:
    found = {key: heater for room in result.rooms.values() for key, heater in room.heaters.items()}
    for key in result.orders:
        spot = result.spots.get(key.partition("/")[0])
        if spot is not None and key not in found:
            found[key] = spot.heater
    return found
