"""A room or heater that bears another name in the house file now: what is known of it follows. Pure.

Rules: a heater is the same where its plug is told at the same address, a room where its sensors have the same topics
and its old name is gone; where a name is both left and taken, it follows only if all of them can be told. A heater
that leaves while it waits for a look leaves its latches behind: they are on it again if it comes back, under its name
or at its plug, and until then a person is told.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

from thermostatd.core.house import (
    AddedPlug,
    HomiePlug,
    House,
    HttpPlug,
    MqttPlug,
    Plug,
    ProgramPlug,
    Room,
    Spot,
)
from thermostatd.core.memory import HeaterMemory, LeftMemory, Memory, Notes

LEFT = "left-waiting"
MARK_BYTES = 6  # of a digest: the memory of a house holds a few dozen
Names = dict[str, str]


@dataclass(frozen=True, slots=True)
class Followed:
    """Old names by new ones' places: what moved, `{old: new}`; and names of the memory that nothing follows."""

    rooms: Names
    heaters: Names
    gone: tuple[str, ...]
    new: tuple[str, ...]
    """Heaters that the memory does not know."""

    @property
    def names(self) -> Names:
        """Rooms and heaters that moved."""
        return self.rooms | self.heaters


def followed(memory: Memory, house: House) -> Followed:
    """Who bears another name in this house; nothing is changed."""
    rooms = {room.name: room_mark(room) for room in house.rooms}
    plugs = {key: plug_mark(heater.plug) for key, heater, _ in house.heaters()}
    kept_rooms = {name: kept.mark for name, kept in memory.rooms.items()}
    kept_plugs = {key: kept.mark for key, kept in memory.heaters.items()}
    moved = {old: new for old, new in _moved(kept_rooms, rooms).items() if old not in rooms and new not in kept_rooms}
    heaters = _moved(kept_plugs, plugs)
    gone = [name for name in kept_rooms if name not in rooms and name not in moved]
    gone += [key for key in kept_plugs if key not in plugs and key not in heaters]
    new = [key for key in plugs if key not in kept_plugs and key not in heaters.values()]
    return Followed(moved, heaters, tuple(gone), tuple(new))


def follow(memory: Memory, house: House) -> Followed:
    """The same, and the memory goes by the new names."""
    found = followed(memory, house)
    for key in found.gone:
        _leave_behind(memory, key, told=bool(found.new))
    memory.troubles = {
        name: kept for name, kept in memory.troubles.items() if name.rpartition("/")[0] not in found.gone
    }
    if not found.names:
        return found
    rooms, heaters = found.rooms, found.heaters
    memory.rooms = {rooms.get(name, name): kept for name, kept in memory.rooms.items()}
    memory.models = {rooms.get(name, name): kept for name, kept in memory.models.items()}
    memory.heaters = {heaters.get(key, key): kept for key, kept in memory.heaters.items()}
    memory.troubles = {_about(name, found.names): kept for name, kept in memory.troubles.items()}
    for kept in memory.heaters.values():
        if kept.placed is not None and kept.placed.room is not None:
            kept.placed.room = rooms.get(kept.placed.room, kept.placed.room)
    memory.changes.clear()
    return found


def settle_in(memory: Memory, house: House) -> None:
    """Each room and heater is marked by what it can be found by; what had left with a latch has it again."""
    for room in house.rooms:
        memory.rooms[room.name].mark = room_mark(room)
    for key, heater, _ in house.heaters():
        kept = memory.heaters[key]
        kept.mark = plug_mark(heater.plug)
        back = [name for name, left in memory.left.items() if name == key or (kept.mark and left.mark == kept.mark)]
        for name in back:
            for code, notes in memory.left.pop(name).notes.items():
                kept.notes.setdefault(code, {}).update(notes)


def latches(kept: HeaterMemory) -> dict[str, Notes]:
    """The notes of what waits for a look at a heater, by its code."""
    return {code: notes for code, notes in kept.notes.items() if notes.get("latched")}


def _leave_behind(memory: Memory, key: str, *, told: bool) -> None:
    kept = memory.heaters.get(key)
    waiting = latches(kept) if kept is not None else {}
    if kept is not None and waiting:
        memory.left[key] = LeftMemory(kept.mark, waiting, told)


def _about(trouble: str, names: Mapping[str, str]) -> str:
    about, _, code = trouble.rpartition("/")
    return f"{names.get(about, about)}/{code}"


def _moved(old: Mapping[str, str], new: Mapping[str, str]) -> Names:
    """Old names and new ones with the same mark; names in use move only where all that hold them do."""
    was, now = _once(old), _once(new)
    moved = {was[mark]: now[mark] for mark in was.keys() & now.keys() if was[mark] != now[mark]}
    while True:
        taken = set(moved.values())
        unclear = [
            name for name, to in moved.items() if (name in new and name not in taken) or (to in old and to not in moved)
        ]
        if not unclear:
            return moved
        for name in unclear:
            del moved[name]


def _once(marks: Mapping[str, str]) -> Names:
    """Names by their mark, where only one bears it."""
    every = list(marks.values())
    return {mark: name for name, mark in marks.items() if mark and every.count(mark) == 1}


def plug_mark(plug: Plug) -> str:
    """What stands for the address at which a plug is told; "" where it has none (a simulated one)."""
    if isinstance(plug, MqttPlug):
        return _mark("mqtt", plug.tell)
    if isinstance(plug, HomiePlug):
        return _mark("homie", f"{plug.topic(plug.switch)}/set")
    if isinstance(plug, HttpPlug):
        return _mark("http", plug.off.model_dump_json())
    if isinstance(plug, ProgramPlug):
        return _mark("program", *plug.off)
    if isinstance(plug, AddedPlug):
        return _mark("added", plug.adapter, *(f"{name}={value}" for name, value in sorted(plug.settings.items())))
    return ""


def room_mark(room: Room) -> str:
    """What stands for the topics of a room's sensors."""
    return _mark("room", *sorted(f"{sensor.topic} {sensor.pointer}" for sensor in room.all_sensors))


def _mark(*words: str) -> str:
    return b64encode(sha256("\n".join(words).encode()).digest()[:MARK_BYTES]).decode()


def places(found: Followed, house: House) -> Names:
    """What a record goes by: rooms, heaters, and spots whose heater follows into a place of another name."""
    spots = {
        old.rpartition("/")[0]: place.name
        for old, new in found.heaters.items()
        for key, _, place in house.heaters()
        if key == new and isinstance(place, Spot) and house.spot(old.rpartition("/")[0]) is None
    }
    return {old: new for old, new in (spots | found.names).items() if old != new}
