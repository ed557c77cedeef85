"""What was asked, held to what the house file allows now: its owner may have narrowed it since.

Rules: a room that someone turned off stays so; a wish outside the limits becomes the limit; it ends no later than the
longest that may be asked allows, and whoever asked is told; nothing that is undone afterwards brings back what is no
longer allowed.
"""

from __future__ import annotations

from collections.abc import Iterator

from thermostatd.core.clock import Now
from thermostatd.core.house import House
from thermostatd.core.memory import Memory, RequestMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event


def keep_to_limits(house: House, memory: Memory, now: Now) -> list[Event]:
    """What it changed, for the people who asked."""
    told: list[Event] = []
    for room in house.rooms:
        kept = memory.rooms.get(room.name)
        for request in (kept.request, *kept.later) if kept is not None else ():
            if request is None or request.off:
                continue
            told += _limited(memory, room.name, request, room.household.lowest, room.household.highest)
            told += _shortened(room.name, request, room.household.longest, now)
    for spot in house.spots:
        told += _shortened(spot.name, memory.spots.get(spot.name), spot.longest, now)
    return told


def _limited(
    memory: Memory, name: str, request: RequestMemory, lowest: float, highest: float
) -> Iterator[Event]:
    before = request.celsius
    if before is None or lowest <= before <= highest:
        return
    request.celsius = min(highest, max(lowest, before))
    memory.changes.clear()
    told = sentence("narrowed", who=request.who or "someone", before=before, celsius=request.celsius)
    yield Event("narrowed", name, told)


def _shortened(name: str, request: RequestMemory | None, longest: float, now: Now) -> Iterator[Event]:
    if request is None or request.ends is None:
        return
    latest = max(now.steady, request.begins or now.steady) + longest
    if request.ends <= latest:
        return
    if request.until_wall is not None:
        request.until_wall -= request.ends - latest
    request.ends = latest
    until = now.text(now.wall_in(latest - now.steady))
    yield Event("shortened", name, sentence("shortened", who=request.who or "someone", until=until))
