"""What a request took the place of is kept for a minute, so that one tap puts back exactly what held before.

Rules: a change is known by its number; a later change of the same thing makes an earlier one final; what has ended
since stays ended; what the owner has looked at cannot be unseen.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

from thermostatd.core.clock import Now
from thermostatd.core.memory import ChangeMemory, HandMemory, Memory, RequestMemory, WeekMemory

UNDO_SECONDS = 60.0
GRACE_SECONDS = 10.0
"""A tap in the last second still has to reach the house."""


@dataclass(frozen=True, slots=True)
class Held:
    """Everything that a request can change, by name: requests, usual weeks, presses on buttons, what waits."""

    requests: dict[str, RequestMemory | None]
    weeks: dict[str, WeekMemory | None]
    hands: dict[str, HandMemory | None]
    later: dict[str, list[RequestMemory]]


def held(memory: Memory, spots: tuple[str, ...]) -> Held:
    """What holds now."""
    requests: dict[str, RequestMemory | None] = {"out": memory.out, "all-off": memory.all_off}
    requests |= {f"room {name}": room.request for name, room in memory.rooms.items()}
    requests |= {f"spot {name}": memory.spots.get(name) for name in spots}
    return Held(
        {name: copy(request) for name, request in requests.items()},
        {name: room.week for name, room in memory.rooms.items()},
        {key: heater.hand for key, heater in memory.heaters.items()},
        {name: [copy(one) for one in room.later] for name, room in memory.rooms.items()},
    )


def remember_change(memory: Memory, before: Held, after: Held, now: Now) -> int | None:
    """Keeps what differs; its number, or None where nothing does."""
    changed = Held(
        {name: was for name, was in before.requests.items() if after.requests[name] != was},
        {name: was for name, was in before.weeks.items() if after.weeks[name] != was},
        {key: was for key, was in before.hands.items() if after.hands[key] != was},
        {name: was for name, was in before.later.items() if after.later[name] != was},
    )
    if not (changed.requests or changed.weeks or changed.hands or changed.later):
        return None
    memory.changes = [one for one in memory.changes if one.ends > now.steady and not _touches(one, changed)]
    memory.change_count += 1
    ends = now.steady + UNDO_SECONDS + GRACE_SECONDS
    kept = ChangeMemory(memory.change_count, ends, changed.requests, changed.weeks, changed.hands, changed.later)
    memory.changes.append(kept)
    return kept.number


def _touches(one: ChangeMemory, changed: Held) -> bool:
    return bool(
        one.requests.keys() & changed.requests.keys()
        or one.weeks.keys() & changed.weeks.keys()
        or one.hands.keys() & changed.hands.keys()
        or one.later.keys() & changed.later.keys()
    )


def take_back(memory: Memory, number: object, now: Now) -> ChangeMemory | None:
    """Puts back what held before that change; None where it can no longer be undone."""
    change = next((one for one in memory.changes if one.number == number and one.ends > now.steady), None)
    if change is None:
        return None
    memory.changes.remove(change)
    for name, request in change.requests.items():
        _put_request(memory, name, request)
    for name, week in change.weeks.items():
        if name in memory.rooms:
            memory.rooms[name].week = week
    for name, later in change.later.items():
        if name in memory.rooms:
            memory.rooms[name].later = later
    for key, hand in change.hands.items():
        if key in memory.heaters:
            memory.heaters[key].hand = hand
    return change


def _put_request(memory: Memory, name: str, request: RequestMemory | None) -> None:
    kind, _, place = name.partition(" ")
    match kind:
        case "out":
            memory.out = request
        case "all-off":
            memory.all_off = request
        case "room" if place in memory.rooms:
            memory.rooms[place].request = request
        case "spot" if request is not None:
            memory.spots[place] = request
        case "spot":
            memory.spots.pop(place, None)


def about_of(change: ChangeMemory) -> str:
    """The one room or spot that a change was about, else the house."""
    places = {name.partition(" ")[2] or "house" for name in change.requests} | set(change.weeks) | set(change.later)
    return places.pop() if len(places) == 1 else "house"
