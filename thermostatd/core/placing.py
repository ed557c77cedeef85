"""Moved by hand: where the owner says that a heater stands now, and what its selector is set to.

Rules: a heater keeps its key and its plug, and all that was learned of it; it counts on the circuit of the room's other
heaters, or on its own where those tell of no single one; the file's word comes back once the owner writes something
else there; a spot's heater stays at its spot. Every stage sees the house as `placed`.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.core.house import Heater, House, Room, Spot
from thermostatd.core.memory import HeaterMemory, Memory, PlacedMemory
from thermostatd.core.meter import levels
from thermostatd.core.meter.diagnosis import accepting, naming
from thermostatd.core.values import is_finite

LEAST_WATTS, MOST_WATTS = 1.0, 4000.0


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a statement was refused: a code of reasons.py and its numbers."""

    code: str
    numbers: dict[str, float | str]


def placed(house: House, memory: Memory) -> House:
    """The house as it stands: the file's, with what the owner said since. Outdated words are forgotten."""
    said = {key: _word(house, memory, key, heater) for key, heater, _ in house.heaters()}
    if not any(said.values()):
        return house
    standing: dict[str, list[Heater]] = {room.name: [] for room in house.rooms}
    for room in house.rooms:
        for heater in room.heaters:
            key = room.key_of(heater)
            word = said[key]
            stands = (word and word.room) or room.name
            standing[stands].append(_as_said(heater, key, word, circuit_in(house, stands, heater)))
    rooms = tuple(room.model_copy(update={"heaters": tuple(standing[room.name])}) for room in house.rooms)
    spots = tuple(
        spot.model_copy(update={"heater": _as_said(spot.heater, spot.key, said[spot.key], spot.heater.circuit)})
        for spot in house.spots
    )
    return house.model_copy(update={"rooms": rooms, "spots": spots})


def stands(
    written: House, memory: Memory, key: object, name: object, who: str, wall: float
) -> Heater | Fault:
    """Take in that a heater now stands in a room; the file's own room takes the word back."""
    found = _find(written, key)
    if isinstance(found, Fault):
        return found
    home, heater = found
    if not isinstance(home, Room):
        return Fault("stays-at-spot", {})
    room = written.room(name) if isinstance(name, str) else None
    if room is None:
        return Fault("no-such-room", {"name": str(name)})
    kept = memory.heaters[home.key_of(heater)]
    before = (kept.placed and kept.placed.room) or home.name
    word = _word_of(kept, heater, who, wall)
    word.room = None if room is home else room.name
    kept.placed = word if word.room or word.watts is not None else None
    if before != room.name:
        _elsewhere(memory, kept, (before, room.name))
    return heater


def set_to(
    written: House, memory: Memory, key: object, watts: object, who: str, wall: float
) -> Heater | Fault:
    """Take in what a heater's selector is set to now, W; the file's own watts take the word back."""
    found = _find(written, key)
    if isinstance(found, Fault):
        return found
    heater = found[1]
    if not is_finite(watts) or not LEAST_WATTS <= watts <= MOST_WATTS:
        return Fault("not-watts", {})
    if heater.settings_watts and watts not in (*heater.settings_watts, heater.watts):
        shown = ", ".join(f"{one:g} W" for one in sorted({*heater.settings_watts, heater.watts}))
        return Fault("no-such-setting", {"settings": shown})
    kept = memory.heaters[str(key)]
    word = _word_of(kept, heater, who, wall)
    word.watts = None if watts == heater.watts else float(watts)
    kept.placed = word if word.room or word.watts is not None else None
    _on_level(kept, float(watts))
    return heater


def _find(written: House, key: object) -> tuple[Room | Spot, Heater] | Fault:
    for known, heater, place in written.heaters():
        if known == key:
            return place, heater
    return Fault("no-such-heater", {"name": str(key)})


def _word_of(kept: HeaterMemory, heater: Heater, who: str, wall: float) -> PlacedMemory:
    old = kept.placed
    return PlacedMemory(old.room if old else None, old.watts if old else None, heater.watts, who, wall)


def _word(house: House, memory: Memory, key: str, heater: Heater) -> PlacedMemory | None:
    """What was said of a heater, as far as the file has not outdated it since."""
    kept = memory.heaters.get(key)
    if kept is None or kept.placed is None:
        return None
    if kept.placed.watts is not None and kept.placed.file_watts != heater.watts:
        kept.placed.watts = None
    if kept.placed.room is not None and house.room(kept.placed.room) is None:
        kept.placed.room = None
    if kept.placed.room is None and kept.placed.watts is None:
        kept.placed = None
    return kept.placed


def circuit_in(written: House, name: str, heater: Heater) -> str | None:
    """The circuit that this heater counts on while it stands in that room."""
    room = written.room(name)
    others = {other.circuit for other in room.heaters} if room is not None else set()
    if room is None or heater in room.heaters or len(others) != 1 or None in others:
        return heater.circuit
    return others.pop()


def _as_said(heater: Heater, key: str, word: PlacedMemory | None, circuit: str | None) -> Heater:
    if word is None:
        return heater
    watts = word.watts if word.watts is not None else heater.watts
    return heater.model_copy(update={"watts": watts, "circuit": circuit}).keeping_key(key)


def _elsewhere(memory: Memory, kept: HeaterMemory, rooms: tuple[str, str]) -> None:
    """Rooms whose heat has changed are learned anew; whether the air answers is asked anew."""
    kept.notes.pop("no-answer", None)
    for name in rooms:
        memory.models.pop(name, None)
        memory.rooms[name].tally.seconds = 0.0


def _on_level(kept: HeaterMemory, watts: float) -> None:
    """The body is what it was; the level is another, and that is no trouble."""
    levels.set_anew(kept.facts, watts)
    kept.facts.level_watts = watts
    kept.body.full_watts, kept.body.drew_watts, kept.body.peak_watts = watts, watts, 0.0
    kept.body.opened, kept.body.fell_at, kept.body.cool_share = False, None, 1.0
    for code in naming.OF_ITS_LEVEL:
        accepting.accept(kept, code)
    about = kept.notes.get(naming.NOTES)
    if about is not None and about.get("usual") is not None:
        about["usual"] = watts
