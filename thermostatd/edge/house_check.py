"""`thermostatd check HOUSE`: every fault and warning of a house file, for people or as JSON."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import asdict

from thermostatd.core.house import House
from thermostatd.edge.house_file import Inspection, inspect_house


def check_lines(path: str | os.PathLike[str]) -> tuple[list[str], list[str]]:
    """The faults and the warnings of a house file, each as `file:line: key: what. mend`."""
    seen = inspect_house(path)
    return [str(fault) for fault in seen.faults], [str(warning) for warning in seen.warnings]


def check_house(
    path: str | os.PathLike[str],
    as_json: bool = False,
    names_of: Callable[[House], list[str]] = lambda _: [],
) -> tuple[str, int]:
    """The whole command: what it prints, and its exit code (0 fine, warnings included; 1 with faults).

    `names_of` says what a sound file does to names that the running house knows.
    """
    seen = inspect_house(path)
    names = names_of(seen.house) if seen.house is not None else []
    text = _as_json(seen, names) if as_json else _as_text(os.fsdecode(path), seen, names)
    return text, 1 if seen.faults else 0


def _as_json(seen: Inspection, names: list[str]) -> str:
    told = {
        "fine": not seen.faults,
        "faults": [asdict(fault) for fault in seen.faults],
        "warnings": [asdict(warning) for warning in seen.warnings],
        "names": names,
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def _as_text(name: str, seen: Inspection, names: list[str]) -> str:
    lines = [f"fault    {fault}" for fault in seen.faults]
    lines += [f"{'danger ' if warning.danger else 'warning'}  {warning}" for warning in seen.warnings]
    lines += [f"name     {said}." for said in names]
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
