"""Minimum times and quiet hours.

Rules: pace may hold what is, on or off, and starts nothing of its own; quiet hours never hold an ON, and each
ON they allow has its OFF in reserve; a cold room opens them; a spot, with a person in front of it, is not paced.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.house import Heater, House, Quiet, Room
from thermostatd.core.memory import Memory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Reason, Verdict
from thermostatd.core.values import Missing
from thermostatd.core.week import next_clock, window_start

LONG_QUIET_SECONDS = 9 * 3600.0
_UNPROVEN = frozenset({"no-air", "demand-failed"})


@dataclass(frozen=True, slots=True)
class Paced:
    """One heater after pace: on or off, why, and what pace said."""

    on: bool
    reason: Reason
    verdicts: tuple[Verdict, ...] = ()


def pace(house: House, memory: Memory, wants: Wants, readings: Readings, now: Now) -> dict[str, Paced]:
    """Hold each heater to its minimum times and its room's quiet hours."""
    paced = {spot.key: Paced(*wants.heaters[spot.key]) for spot in house.spots}
    for room in house.rooms:
        quiet = _quiet_now(room, memory, now)
        air = readings.air[room.name]
        cold = not isinstance(air, Missing) and air.celsius < room.cold_celsius
        starting = 0
        for heater in room.heaters:
            key = room.key_of(heater)
            result = _of_heater(
                room, heater, memory, wants.heaters[key], quiet if not cold else None, starting, now
            )
            starting += result.on and not memory.heaters[key].told_on
            paced[key] = result
    return paced


def note_switching(memory: Memory, room: Room, now: Now) -> None:
    """Count one switching of a room's heater against its quiet hours."""
    if _quiet_now(room, memory, now) is not None:
        memory.rooms[room.name].quiet_used += 1


def may_come_back(room: Room, memory: Memory, now: Now) -> bool:
    """Whether a heater that runs, were it switched OFF now, might be switched ON again before its quiet hours end."""
    quiet = _quiet_now(room, memory, now)
    if quiet is None or (next_clock(now.best, quiet.ends, now.zone) - now.best).total_seconds() > LONG_QUIET_SECONDS:
        return True  # hours so long are no night: what has to be known is not put off by half a day
    return _quiet_allows(room, memory, quiet, 0)


def _of_heater(
    room: Room,
    heater: Heater,
    memory: Memory,
    want: tuple[bool, Reason],
    quiet: Quiet | None,
    starting: int,
    now: Now,
) -> Paced:
    on, why = want
    kept = memory.heaters[room.key_of(heater)]
    if kept.hand is not None or why.code in _UNPROVEN:
        return Paced(on, why)  # the contact has moved already; or there is nothing to hold an ON by
    if kept.told_on and not on:
        left = _left(kept.on_since, heater.min_on, now)
        return _held(True, "spell", reason("spell", minutes=_minutes(left))) if left > 0 else Paced(on, why)
    if kept.told_on or not on:
        return Paced(on, why)
    left = _left(kept.off_since, heater.min_off, now)
    if left > 0:
        return _held(False, "rest", reason("rest", minutes=_minutes(left)))
    if quiet is not None and not _quiet_allows(room, memory, quiet, starting):
        until = now.text(next_clock(now.best, quiet.ends, now.zone))
        return _held(False, "quiet", reason("quiet", switches=quiet.switches, until=until))
    return Paced(on, why)


def _quiet_allows(room: Room, memory: Memory, quiet: Quiet, starting: int) -> bool:
    """Room for this ON and its OFF, beside the OFF that each running or starting heater has in reserve."""
    running = sum(memory.heaters[room.key_of(heater)].told_on for heater in room.heaters)
    return memory.rooms[room.name].quiet_used + running + 2 * starting + 2 <= quiet.switches


def _quiet_now(room: Room, memory: Memory, now: Now) -> Quiet | None:
    """The quiet hours that hold now; their count starts at zero with each night."""
    kept = memory.rooms[room.name]
    for quiet in room.quiet:
        start = window_start(now.best, quiet.begins, quiet.ends, now.zone)
        if start is not None:
            if kept.quiet_window is None or abs(kept.quiet_window - start) > 3600.0 * 4:
                kept.quiet_window, kept.quiet_used = start, 0
            return quiet
    kept.quiet_window, kept.quiet_used = None, 0
    return None


def _left(since: float | None, minimum: float, now: Now) -> float:
    return since + minimum - now.steady if since is not None else 0.0


def _held(on: bool, code: str, why: Reason) -> Paced:
    return Paced(on, why, (Verdict(code, tripped=True, reason=why),))


def _minutes(seconds: float) -> float:
    return max(1.0, float(-(-seconds // 60.0)))
