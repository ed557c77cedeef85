"""A memory taken over into a changed house: what people asked and what was learned goes on. Pure.

Rules: a plug that is told anew counts as after a start; what bears another name now is followed; what left the file is
kept aside by its name, should it come back. Wishes outside the new limits are the next step's (limits.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from thermostatd.core.following import Followed, follow
from thermostatd.core.house import House
from thermostatd.core.remembering import awaken, from_plain, to_plain

Aside = dict[str, dict[str, Any]]
_TABLES = ("rooms", "heaters", "models")


def taken_over(
    memory: Mapping[str, Any], house: House, renewed: Iterable[str], aside: Aside
) -> tuple[dict[str, Any], Followed]:
    """The memory for the changed house, and who bears another name there.

    `renewed` are the heaters whose plugs are told anew. `aside` is filled with what left the file, by its name, and
    gives back what came into it again.
    """
    moving = from_plain(dict(memory))
    found = follow(moving, house)
    plain = to_plain(moving)
    _swap(plain, house, aside)
    woken = from_plain(awaken(plain))
    fresh = from_plain(plain)
    for key in renewed:
        if key in fresh.heaters:
            fresh.heaters[key] = woken.heaters[key]
    return to_plain(fresh), found


def _swap(plain: dict[str, Any], house: House, aside: Aside) -> None:
    """What left the house goes aside, what is back comes in."""
    rooms = {room.name for room in house.rooms}
    wanted = {"rooms": rooms, "models": rooms, "heaters": {key for key, _, _ in house.heaters()}}
    for table in _TABLES:
        kept, away = dict(plain.get(table, {})), aside.setdefault(table, {})
        for name in [name for name in kept if name not in wanted[table]]:
            away[name] = kept.pop(name)
        for name in [name for name in away if name in wanted[table]]:
            back = away.pop(name)
            kept.setdefault(name, _woken(table, name, back))
        plain[table] = kept


def _woken(table: str, name: str, back: Any) -> Any:
    """As after a start: nothing of it was heard since it left."""
    if table == "models":
        return back
    return awaken({"version": 1, table: {name: back}})[table][name]
