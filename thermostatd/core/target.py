"""Requests, the usual week and the owner's limits become the target in force, and whose it is.

Rules: everyone out beats a request, a request beats the usual week; a room turned off is wanted no warmer than its week
wants it and never heats ahead of the end; timed requests end by steady
seconds; only the usual week follows the wall clock, and it stands still while that is doubted. What holds after a
timed wish, and what was asked for later, is known ahead, as a step of the week is, so that a room may be warm when
everyone is back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from thermostatd.core import later
from thermostatd.core.clock import Now
from thermostatd.core.house import House, Room
from thermostatd.core.memory import Memory, RequestMemory, RoomMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event, Target, Waiting
from thermostatd.core.spots import start_usual
from thermostatd.core.week import Week, in_season


def targets(
    house: House, memory: Memory, weeks: Mapping[str, Week], now: Now
) -> tuple[dict[str, Target], list[Event]]:
    """Each room's target, and the requests that have just ended or begun."""
    events = [*end_requests(memory, now), *later.begin(memory, now), *start_usual(house, memory, now)]
    memory.changes = [one for one in memory.changes if one.ends > now.steady]  # the others are final
    found = {}
    for room in house.rooms:
        kept, after = memory.rooms[room.name], usual(house, room, weeks[room.name], now)
        if not now.doubted:
            kept.last_target = after.celsius
        wish = memory.out or kept.request
        then = _later(house, kept, weeks[room.name], wish, now) if wish is not None else None
        target = _target(house, memory, kept, after, then, now)
        if target is after:
            target = later.ahead(target, kept)
        if kept.later:
            target = replace(target, later=_waiting(house, kept, weeks[room.name], now))
        found[room.name] = target
    return found, events


def usual(house: House, room: Room, week: Week, now: Now) -> Target:
    """What the usual week wants of a room, or the frost floor where it wants nothing."""
    celsius, next_at, next_celsius = week.at(now.wall)
    if celsius is None or not _heats(house, week, now.wall, now.zone):
        return Target(house.house.frost_celsius, "frost", "frost", None)
    until = datetime.fromtimestamp(next_at, UTC) if next_at is not None else None
    steady = now.steady + next_at - now.wall.timestamp() if next_at is not None else None
    return Target(celsius, "usual", "usual", until, next_celsius, steady)


def _heats(house: House, week: Week, wall: datetime, zone: ZoneInfo) -> bool:
    """Whether a room's usual week counts on that day."""
    season = house.house.season
    return week.is_known and (season is None or in_season(wall, season.begins, season.ends, zone))


def end_requests(memory: Memory, now: Now) -> list[Event]:
    """Forget what has ended by the steady clock."""
    events = []
    if _over(memory.out, now):
        events.append(_ended(memory.out, "house"))
        memory.out = None
    for name, room in memory.rooms.items():
        if _over(room.request, now):
            events.append(_ended(room.request, name))
            room.request = None
    for name, request in list(memory.spots.items()):
        if _over(request, now):
            events.append(_ended(request, name))
            del memory.spots[name]
    return events


def bring_forward(memory: Memory, seconds: float) -> None:
    """So much more time had gone by until the start than was believed then: what was asked before it ends by the time
    that was said."""
    for request in memory.timed():
        if request.ends is None or request.until_wall is None:
            continue
        asked_at = request.ends - (request.until_wall - request.asked_wall)
        if asked_at < (memory.clock.woken_at or 0.0):
            request.put_off(-seconds)


def _waiting(house: House, kept: RoomMemory, week: Week, now: Now) -> tuple[Waiting, ...]:
    """What waits in a room, with what its week wants afterwards."""
    ends = [now.wall + timedelta(seconds=(one.ends or now.steady) - now.steady) for one in kept.later]
    then = [
        week.later(now.wall, end) if _heats(house, week, end, now.zone) else house.house.frost_celsius for end in ends
    ]
    return tuple(later.waiting(kept, then))


def _target(
    house: House, memory: Memory, kept: RoomMemory, after: Target, then: float | None, now: Now
) -> Target:
    if memory.out is not None:
        return _wished(memory.out, house.house.frost_celsius, "out", then)
    if kept.request is not None and kept.request.off:
        return _off(kept.request, min(house.house.frost_celsius, after.celsius), then)
    if kept.request is not None and kept.request.celsius is not None:
        asked = _wished(kept.request, kept.request.celsius, "asked", then)
        return later.cut_short(kept.request, asked, kept)
    if not now.doubted:
        return after
    if kept.last_target is None:  # the time was never known: there is nothing to hold
        return Target(house.house.frost_celsius, "frost", "frost")
    return Target(kept.last_target, "usual", "held")


def _later(house: House, kept: RoomMemory, week: Week, wish: RequestMemory, now: Now) -> float | None:
    """What holds once that wish ends, °C; None where it has no end, or one too far off to tell."""
    if wish.ends is None:
        return None
    longer = kept.request if kept.request is not wish and later.holds(kept.request, wish.ends) else None
    if longer is not None and longer.off:
        return house.house.frost_celsius
    waits = later.at(kept, wish.ends)
    if waits is not None or longer is not None:
        return waits if waits is not None or longer is None else longer.celsius
    wall = now.wall + timedelta(seconds=wish.ends - now.steady)
    return week.later(now.wall, wall) if _heats(house, week, wall, now.zone) else house.house.frost_celsius


def _off(request: RequestMemory, celsius: float, then: float | None) -> Target:
    """A room turned off: what comes then is told, but not when, so that nothing is heated for it before."""
    return replace(_wished(request, celsius, "room-off", then), next_at=None)


def _wished(request: RequestMemory, celsius: float, code: str, then: float | None) -> Target:
    until = datetime.fromtimestamp(request.until_wall, UTC) if request.until_wall is not None else None
    return Target(celsius, request.who, code, until, then, request.ends if then is not None else None)


def _over(request: RequestMemory | None, now: Now) -> bool:
    return request is not None and request.ends is not None and now.steady >= request.ends


def _ended(request: RequestMemory | None, about: str) -> Event:
    assert request is not None
    return Event("request-ended", about, sentence("request-ended", who=request.who))
