"""What still holds of a house file with faults, so that clashes are told in the same round as misspellings.

Rules: a faulty heater, spot or room is left out whole, and what belongs together goes together, so that
leaving something out never makes a clash that the owner's file does not have.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError

from thermostatd.core.house import House
from thermostatd.core.house.clashes import clashes
from thermostatd.core.house.remarks import Clash

Path = tuple[str | int, ...]
_LIMITS = ("household", "usual", "ceiling_celsius", "cold_celsius")
_GONE: dict[str, Any] = {}


def clashes_besides(data: dict[str, Any], faulty: Iterable[Path]) -> list[Clash]:
    """The clashes among what is readable in `data`, with paths as in `data`."""
    good = copy.deepcopy(data)
    for path in faulty:
        _leave_out(good, path)
    kept = _close_ranks(good)
    try:
        house = House.model_validate(good, by_alias=True, by_name=False)
    except ValidationError:
        return []
    found = (clash for clash in clashes(house) if len(clash.path) > 1)
    return [Clash(_restored(clash.path, kept), clash.what, clash.mend) for clash in found]


def _leave_out(good: dict[str, Any], path: Path) -> None:
    table = path[0]
    if table == "circuit":
        good.pop("circuit", None)
        for heater in _heaters(good):
            heater.pop("circuit", None)
    elif table in ("room", "spot") and len(path) > 1:
        _leave_out_place(good[str(table)], path)
    elif table == "house" and len(path) > 1:
        good["house"].pop(path[1], None)
    else:
        good.pop(str(table), None)


def _heaters(good: dict[str, Any]) -> Iterable[dict[str, Any]]:
    for table in ("room", "spot"):
        places = good.get(table)
        for place in places if isinstance(places, list) else []:
            found = place.get("heater") if isinstance(place, dict) else None
            yield from (h for h in (found if isinstance(found, list) else [found]) if isinstance(h, dict))


def _leave_out_place(places: Any, path: Path) -> None:
    index = path[1]
    if not isinstance(places, list) or not isinstance(index, int):
        return
    place = places[index]
    if place is _GONE:
        return
    if path[0] == "spot" or not isinstance(place, dict) or path[2:3] == ("name",):
        places[index] = _GONE
    elif len(path) == 2 or path[2] in ("sensor", "sensors"):
        place.pop("sensors", None)
        place["sensor"] = {"topic": "left out"}
    elif path[2] == "heater" and len(path) > 3 and isinstance(place.get("heater"), list):
        place["heater"][path[3]] = _GONE
    else:
        for key in _LIMITS if path[2] in _LIMITS else (path[2],):
            place.pop(key, None)


def _close_ranks(good: dict[str, Any]) -> dict[Path, list[int]]:
    """Takes out what is gone; gives, for each list, the old index of what stayed."""
    kept: dict[Path, list[int]] = {}
    for table in ("room", "spot"):
        if isinstance(good.get(table), list):
            kept[(table,)], good[table] = _present(good[table])
    for index, room in enumerate(good["room"] if isinstance(good.get("room"), list) else []):
        if isinstance(room, dict) and isinstance(room.get("heater"), list):
            kept["room", index, "heater"], room["heater"] = _present(room["heater"])
    return kept


def _present(items: list[Any]) -> tuple[list[int], list[Any]]:
    stay = [index for index, item in enumerate(items) if item is not _GONE]
    return stay, [items[index] for index in stay]


def _restored(path: Path, kept: dict[Path, list[int]]) -> Path:
    restored: list[str | int] = []
    for depth, part in enumerate(path):
        indices = kept.get(path[:depth])
        restored.append(indices[part] if indices is not None and isinstance(part, int) else part)
    return tuple(restored)
