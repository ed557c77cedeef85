"""A memory taken over into a changed house: what people asked and what was learned goes on. Pure.

Rules: a plug that is told anew counts as after a start; a wish outside the new limits becomes the limit, and ends
no later than the new longest allows; what left the file is kept aside by its name, should it come back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from thermostatd.core.house import House
from thermostatd.core.house.remarks import plain as plain_number
from thermostatd.core.memory import Memory, RoomMemory
from thermostatd.core.remembering import awaken, from_plain, to_plain

Aside = dict[str, dict[str, Any]]
_TABLES = ("rooms", "heaters", "models")


def taken_over(
    memory: Mapping[str, Any], house: House, renewed: Iterable[str], aside: Aside
) -> tuple[dict[str, Any], list[str]]:
    """The memory for the changed house, and sentences on wishes that it changed.

    `renewed` are the heaters whose plugs are told anew. `aside` is filled with what left the file, by its name, and
    gives back what came into it again.
    """
    plain = dict(memory)
    _swap(plain, house, aside)
    woken = from_plain(awaken(plain))
    fresh, told = from_plain(plain), []
    for key in renewed:
        if key in fresh.heaters:
            fresh.heaters[key] = woken.heaters[key]
    for room in house.rooms:
        kept = fresh.rooms.get(room.name)
        if kept is not None:
            told += _limited(fresh, room.name, kept, room.household.lowest, room.household.highest)
            _shortened(fresh, kept, room.household.longest)
    return to_plain(fresh), told


def _limited(memory: Memory, name: str, kept: RoomMemory, lowest: float, highest: float) -> list[str]:
    request = kept.request
    if request is None or request.celsius is None or lowest <= request.celsius <= highest:
        return []
    before, request.celsius = request.celsius, min(highest, max(lowest, request.celsius))
    memory.changes.clear()  # an undo would bring back what is no longer allowed
    was, now = plain_number(before), plain_number(request.celsius)
    return [f"{name}: what {request.who or 'someone'} asked, {was} °C, is {now} °C now: the limit"]


def _shortened(memory: Memory, kept: RoomMemory, longest: float) -> None:
    request, now = kept.request, memory.clock.last_steady
    if request is None or request.ends is None or now is None or request.ends <= now + longest:
        return
    if request.until_wall is not None:
        request.until_wall -= request.ends - (now + longest)
    request.ends = now + longest


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
