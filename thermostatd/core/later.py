"""Wishes that begin later: what may be asked so, when one begins, and what it means for the time before.

Rules: a wish waits with its begin and end as steady seconds, like any other; it takes the place of what was asked
before; a room that is off stays off, and everyone out goes over it; one whose end comes meanwhile is over. In a room no
two may hold at once. The room is told of it ahead, as of a step of its week.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

from thermostatd.core.clock import Now
from thermostatd.core.memory import Memory, RequestMemory, RoomMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event, Target, Waiting
from thermostatd.core.said import said as text_of
from thermostatd.core.week import SAME_STEP_SECONDS

FARTHEST_DAYS = 7
MOST_WAITING = 7
FAR = float("inf")


def refusal(memory: Memory, kept: RoomMemory, begins: float, now: Now) -> tuple[str, dict[str, float | str]] | None:
    """Why no wish can begin then, by its code and numbers; `begins` in steady seconds."""
    if begins <= now.steady:
        return "in-the-past", {}
    if begins > now.steady + FARTHEST_DAYS * 86400.0:
        return "too-far-ahead", {"limit": float(FARTHEST_DAYS)}
    if len(kept.later) >= MOST_WAITING:
        return "too-many-waiting", {"limit": float(MOST_WAITING)}
    if holds(memory.out, begins):
        return "everyone-out", {"until": _until(memory.out, now)}
    if kept.request is not None and kept.request.off and holds(kept.request, begins):
        return "room-is-off", {"until": _until(kept.request, now)}
    return None


def in_the_way(kept: RoomMemory, begins: float, ends: float) -> RequestMemory | None:
    """A wish that waits already and would hold at the same time."""
    return next((one for one in kept.later if _begin(one) < ends and begins < (one.ends or FAR)), None)


def wait(kept: RoomMemory, wish: RequestMemory) -> None:
    """The wish waits in that room."""
    kept.later = sorted([*kept.later, wish], key=_begin)


def withdraw(kept: RoomMemory, begins_wall: float) -> RequestMemory | None:
    """The wish that waits until then, which waits no more."""
    found = next((one for one in kept.later if abs((one.begins_wall or 0.0) - begins_wall) < 60.0), None)
    kept.later = [one for one in kept.later if one is not found]
    return found


def begin(memory: Memory, now: Now) -> list[Event]:
    """Each wish whose time has come holds from now on."""
    events = []
    for name, kept in memory.rooms.items():
        due = [one for one in kept.later if _begin(one) <= now.steady]
        for wish in due:
            over = wish.ends is not None and wish.ends <= now.steady
            if not over and kept.request is not None and kept.request.off:
                continue
            kept.later = [one for one in kept.later if one is not wish]
            memory.changes = [  # what was asked for later is final now, and so is what it takes the place of
                one for one in memory.changes if f"room {name}" not in one.requests and name not in one.later
            ]
            if over:
                events.append(Event("request-ended", name, sentence("request-ended", who=wish.who)))
                continue
            kept.request = wish
            events.append(Event("begun", name, _said(wish, now)))
    return events


def ahead(target: Target, kept: RoomMemory) -> Target:
    """The same target, with the wish that waits as what comes next, where it is sooner than that."""
    wish = kept.later[0] if kept.later else None
    if wish is None or (target.next_at is not None and target.next_at < _begin(wish) - SAME_STEP_SECONDS):
        return target
    return replace(target, until=_wall(wish.begins_wall), next_celsius=wish.celsius, next_at=wish.begins)


def cut_short(wish: RequestMemory, target: Target, kept: RoomMemory) -> Target:
    """The target of a wish in force, which ends where one that waits begins."""
    coming = kept.later[0] if kept.later else None
    if coming is None or (wish.ends is not None and wish.ends < _begin(coming) - SAME_STEP_SECONDS):
        return target
    return ahead(replace(target, next_at=None), kept)


def at(kept: RoomMemory, steady: float) -> float | None:
    """What a wish that waits wants at a later moment, °C; None where none holds then."""
    for one in kept.later:
        if _begin(one) <= steady + SAME_STEP_SECONDS and holds(one, steady + SAME_STEP_SECONDS):
            return one.celsius
    return None


def waiting(kept: RoomMemory, then: list[float | None]) -> Iterator[Waiting]:
    """What waits in a room, for people; `then` is what the week wants after each."""
    for one, celsius in zip(kept.later, then, strict=True):
        begins, ends = _wall(one.begins_wall), _wall(one.until_wall)
        if one.celsius is not None and begins is not None and ends is not None:
            yield Waiting(one.celsius, begins, ends, one.who, celsius)


def _begin(wish: RequestMemory) -> float:
    return wish.begins if wish.begins is not None else 0.0


def holds(request: RequestMemory | None, steady: float) -> bool:
    """Whether what was asked has not ended by then."""
    return request is not None and (request.ends is None or steady < request.ends)


def _until(request: RequestMemory | None, now: Now) -> str:
    wall = request.until_wall if request is not None else None
    return until_text(wall, now)


def until_text(wall: float | None, now: Now) -> str:
    """ " until 16:40", or nothing."""
    return text_of(" until {at}", at=now.text(wall)) if wall is not None else ""


def _said(wish: RequestMemory, now: Now) -> str:
    until = now.text(wish.until_wall) if wish.until_wall is not None else ""
    return sentence("begun", who=wish.who, celsius=wish.celsius or 0.0, until=until)


def _wall(seconds: float | None) -> datetime | None:
    return datetime.fromtimestamp(seconds, UTC) if seconds is not None else None
