"""A start after which only the wall clock tells for how long it was down, and by days or not at all. Pure.

Rules: what people asked is not shortened by a leap of more than a day until the clock was set or a quarter of an hour
has gone; then it ends by the time that was said. The clock may be set back to when it was last trusted meanwhile. Until
a leap has held for a week, nothing is thrown away by age.
"""

from __future__ import annotations

from thermostatd.core.memory import ClockMemory, Memory

LEAP_SECONDS = 26 * 3600.0
PROVEN_SECONDS = 7 * 86400.0


def woken(memory: Memory, before: ClockMemory, gap: float, *, by_wall: bool, known: bool) -> None:
    """At a start: `gap` seconds went by on the steady clock; by the wall clock alone; or it is not `known` at all."""
    clock = memory.clock
    clock.floor_wall, clock.floor_steady = before.floor_wall, before.floor_steady
    clock.pending, clock.gap, clock.proven_at = before.pending, before.gap, before.proven_at
    if not by_wall or before.last_wall is None or (known and gap <= LEAP_SECONDS):
        return
    if clock.floor_wall is None:
        clock.floor_wall, clock.floor_steady = before.last_wall, before.last_steady
    clock.pending = True
    if gap > LEAP_SECONDS:
        clock.gap += gap
        for request in memory.timed():
            if request.until_wall is not None:  # else nothing would bring it forward again
                request.put_off(gap)


def earliest(clock: ClockMemory) -> float | None:
    """The wall time before which it cannot be, as far as is known."""
    return clock.last_wall if clock.floor_wall is None else clock.floor_wall


def may_be_set_to(clock: ClockMemory, wall: float, tolerance: float) -> bool:
    """Whether a clock that leapt may be set back so far."""
    return clock.floor_wall is not None and wall >= clock.floor_wall - tolerance


def leapt(clock: ClockMemory, steady: float, offset: float) -> None:
    """The wall clock is believed on another offset while running: where that is days ahead, it has yet to be proven."""
    if clock.offset is not None and offset - clock.offset > LEAP_SECONDS and clock.floor_wall is None:
        clock.floor_wall, clock.floor_steady = steady + clock.offset, steady
        clock.proven_at = steady + PROVEN_SECONDS


def resolved(clock: ClockMemory, steady: float, *, now: bool) -> float:
    """Seconds by which wishes end earlier, once it is plain for how long it was down; `now`: the clock was just set."""
    if clock.proven_at is not None and steady >= clock.proven_at:
        clock.floor_wall = clock.floor_steady = clock.proven_at = None
    over = clock.settling_until is not None and steady >= clock.settling_until
    if not clock.pending or clock.doubted_since is not None or clock.offset is None or not (now or over):
        return 0.0
    down = clock.gap
    if clock.floor_wall is not None and clock.floor_steady is not None:
        down = max(0.0, clock.gap + clock.offset - (clock.floor_wall - clock.floor_steady))
    clock.pending, clock.gap = False, 0.0
    if down > LEAP_SECONDS:
        clock.proven_at = steady + PROVEN_SECONDS
    else:
        clock.floor_wall = clock.floor_steady = clock.proven_at = None
    return down


def is_proven(clock: ClockMemory) -> bool:
    """Whether what is old by this clock may be thrown away."""
    return clock.doubted_since is None and clock.offset is not None and clock.floor_wall is None
