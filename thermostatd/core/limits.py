"""What was asked, held to what the house file allows now: its owner may have narrowed it since.

Rules: a wish outside the limits becomes the limit; it ends no later than the longest that may be asked allows; nothing
that is undone afterwards brings back what is no longer allowed.
"""

from __future__ import annotations

from thermostatd.core.house import House
from thermostatd.core.house.remarks import plain as plain_number
from thermostatd.core.memory import Memory, RequestMemory


def keep_to_limits(house: House, memory: Memory, steady: float | None) -> list[str]:
    """Sentences on wishes whose temperature it changed; `steady` is None where the time is not known yet."""
    told = []
    for room in house.rooms:
        request = memory.rooms[room.name].request if room.name in memory.rooms else None
        if request is None:
            continue
        if request.celsius is not None:
            told += _limited(memory, room.name, request, room.household.lowest, room.household.highest)
        _shorten(request, steady, room.household.longest)
    for spot in house.spots:
        _shorten(memory.spots.get(spot.name), steady, spot.longest)
    return told


def _limited(memory: Memory, name: str, request: RequestMemory, lowest: float, highest: float) -> list[str]:
    before = request.celsius
    if before is None or lowest <= before <= highest:
        return []
    request.celsius = min(highest, max(lowest, before))
    memory.changes.clear()
    was, now = plain_number(before), plain_number(request.celsius)
    return [f"{name}: what {request.who or 'someone'} asked, {was} °C, is {now} °C now: the limit"]


def _shorten(request: RequestMemory | None, steady: float | None, longest: float) -> None:
    if request is None or request.ends is None or steady is None or request.ends <= steady + longest:
        return
    if request.until_wall is not None:
        request.until_wall -= request.ends - (steady + longest)
    request.ends = steady + longest
