"""What a changed house file does to the names in a state folder: said by `check`, before the change is in force.

Rules: a state folder that cannot be read, or that shares no name with the file (another house's), says nothing.
"""

from __future__ import annotations

from pathlib import Path

from thermostatd.core.following import Followed, followed, latches
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.remembering import from_plain
from thermostatd.edge.store import StoreError
from thermostatd.edge.store.reader import open_record


def names_changed(folder: Path, house: House) -> list[str]:
    """A sentence for each room or heater that bears another name, or that nothing in the file follows."""
    try:
        with open_record(folder) as record:
            memory = from_plain(record.memory() or None)
    except (StoreError, ValueError):
        return []
    found = followed(memory, house)
    stays = set(memory.rooms) & {room.name for room in house.rooms}
    return _sentences(memory, found) if stays or found.names else []


def _sentences(memory: Memory, found: Followed) -> list[str]:
    told = [f"{old} becomes {new}: what was learned of it, its record and what waits for a look follow"
            for old, new in found.names.items()]  # fmt: skip
    return told + [_left(memory, name) for name in found.gone]


def _left(memory: Memory, name: str) -> str:
    by = "plug" if name in memory.heaters else "sensors"
    said = f"{name} goes, and nothing in this file has its {by}: what was learned of it and its record do not follow"
    waiting = latches(memory.heaters[name]) if name in memory.heaters else {}
    return f"{said}; it waits for a look ({', '.join(waiting)}), which does not follow either" if waiting else said
