"""What one house file has and another has not, as sentences for the log. Pure.

Rules: each sentence says where, what, and from which value to which, as an owner writes them; addresses and files
that may hold or name a secret are told as changed and never shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from thermostatd.core.house import House

_NAMES = {
    "household.highest": "target limit",
    "household.lowest": "lowest target",
    "household.longest": "longest request",
    "ceiling_celsius": "ceiling",
    "cold_celsius": "cold limit",
    "frost_celsius": "frost target",
    "watts": "selector setting",
    "usual": "usual week",
    "quiet": "quiet hours",
    "per_kwh": "price",
}
_SECRET = ("plug", "notices", "password_file", "owner_passphrase_file", "tls")
_LONGEST = 60


def changes(old: House, new: House) -> tuple[str, ...]:
    """Every difference, in the order of the file; none where the two describe the same."""
    before, after = (house.model_dump(mode="json", by_alias=True) for house in (old, new))
    told: list[str] = []
    for table in ("house", "broker", "pages", "tariff", "notices"):
        if (before[table] is None) != (after[table] is None):
            told.append(f"[{table}]: {'a new table' if before[table] is None else 'taken out'}")
        else:
            told += _in_table(table, before[table] or {}, after[table] or {})
    told += _named("circuit", before["circuit"], after["circuit"])
    told += _places("room", before["room"], after["room"])
    told += _places("spot", before["spot"], after["spot"])
    return tuple(told)


def _places(kind: str, before: list[Any], after: list[Any]) -> Iterator[str]:
    """Rooms or spots with the heaters in them."""
    bare = [[_without_heaters(one) for one in places] for places in (before, after)]
    yield from _named(kind, bare[0], bare[1])
    old, new = _by_name(before), _by_name(after)
    for name in old:
        if name in new:
            yield from _named("heater", _heaters(old[name]), _heaters(new[name]), f"{name}/")


def _without_heaters(place: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in place.items() if key != "heater"}


def _heaters(place: Mapping[str, Any]) -> list[Any]:
    heaters = place["heater"]
    return heaters if isinstance(heaters, list) else [heaters]


def _named(kind: str, before: list[Any], after: list[Any], inside: str = "") -> Iterator[str]:
    old, new = _by_name(before), _by_name(after)
    for name in old:
        if name not in new:
            yield f"{inside}{name}: this {kind} is taken out"
    for name in new:
        if name not in old:
            yield f"{inside}{name}: a new {kind}"
        else:
            yield from _in_table(f"{inside}{name}", old[name], new[name])


def _by_name(items: list[Any]) -> dict[str, Any]:
    return {item["name"]: item for item in items}


def _in_table(where: str, old: Mapping[str, Any], new: Mapping[str, Any], path: str = "") -> Iterator[str]:
    for key in dict.fromkeys([*old, *new]):
        before, after = old.get(key), new.get(key)
        at = f"{path}.{key}" if path else key
        if before == after:
            continue
        if key in _SECRET or where in _SECRET:
            yield f"{where}: {at} changed"
        elif isinstance(before, dict) and isinstance(after, dict):
            yield from _in_table(where, before, after, at)
        else:
            yield f"{where}: {_NAMES.get(at, at)} {_shown(before)} → {_shown(after)}"


def _shown(value: Any) -> str:
    """A value as the file has it, short."""
    if value is None or value == []:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        text = ", ".join(_shown(one) for one in value)
    elif isinstance(value, dict):
        text = " ".join(_shown(one) for one in value.values() if one is not None)
    else:
        text = str(value)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 2] + " …"
