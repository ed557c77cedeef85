"""`thermostatd check HOUSE`: every fault and warning of a house file, for people or as JSON."""

from __future__ import annotations

import json
import os
from dataclasses import asdict

from thermostatd.edge.house_file import Inspection, inspect_house


def check_lines(path: str | os.PathLike[str]) -> tuple[list[str], list[str]]:
    """The faults and the warnings of a house file, each as `file:line: key: what. mend`."""
    seen = inspect_house(path)
    return [str(fault) for fault in seen.faults], [str(warning) for warning in seen.warnings]


def check_house(path: str | os.PathLike[str], as_json: bool = False) -> tuple[str, int]:
    """The whole command: what it prints, and its exit code (0 fine, warnings included; 1 with faults)."""
    seen = inspect_house(path)
    text = _as_json(seen) if as_json else _as_text(os.fsdecode(path), seen)
    return text, 1 if seen.faults else 0


def _as_json(seen: Inspection) -> str:
    told = {
        "fine": not seen.faults,
        "faults": [asdict(fault) for fault in seen.faults],
        "warnings": [asdict(warning) for warning in seen.warnings],
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def _as_text(name: str, seen: Inspection) -> str:
    lines = [f"fault    {fault}" for fault in seen.faults]
    lines += [f"warning  {warning}" for warning in seen.warnings]
    lines.append(f"{name}: {counted(len(seen.faults), 'fault')}, {counted(len(seen.warnings), 'warning')}")
    if seen.house is not None:
        rooms, spots = len(seen.house.rooms), len(seen.house.spots)
        heaters = sum(1 for _ in seen.house.heaters())
        counts = f"{counted(rooms, 'room')}, {counted(spots, 'spot')}, {counted(heaters, 'heater')}"
        lines.append(f"{seen.house.house.name}: {counts}. Local codes and licensed practice decide.")
    return "\n".join(lines)


def counted(count: int, what: str) -> str:
    """How many of something: "no rooms", "1 room", "2 rooms"."""
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"
