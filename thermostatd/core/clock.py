"""The two clocks: steady seconds rule everything but the usual week; a wall clock that jumps is doubted.

Rules: while doubted, the week stands still; after 30 minutes rooms go off; the wall clock is believed
again when it comes back, when it has gone evenly for two hours on a plausible new time, or when the owner
has looked at it. Only a step counts the seconds since the last step; a request in between does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from thermostatd.core.leap import earliest, leapt, may_be_set_to, resolved
from thermostatd.core.memory import ClockMemory
from thermostatd.core.said import When
from thermostatd.core.values import Moment

TOLERANCE_SECONDS = 90.0
HOLD_SECONDS = 1800.0
BELIEVE_AFTER_SECONDS = 7200.0
EARLIEST_WALL = datetime(2024, 1, 1, tzinfo=UTC).timestamp()
BACKWARD_SECONDS = 26 * 3600.0


@dataclass(frozen=True, slots=True)
class Now:
    """One step's time: steady seconds, seconds since the last step, the wall time to go by, and trust.

    `wall` is what the usual week follows (standing still while doubted); `best` is the likeliest wall time.
    """

    steady: float
    seconds: float
    wall: datetime
    best: datetime
    doubted_since: float | None
    zone: ZoneInfo
    jump_seconds: float = 0.0
    missed_seconds: float = 0.0
    """By how much longer it was down than was believed until this step."""

    @property
    def doubted(self) -> bool:
        """Whether the clocks disagree."""
        return self.doubted_since is not None

    @property
    def past_holding(self) -> bool:
        """Whether they have disagreed for longer than a last target may be held."""
        return self.doubted_since is not None and self.steady - self.doubted_since >= HOLD_SECONDS

    def wall_in(self, seconds: float) -> datetime:
        """The likeliest wall time that many seconds from now."""
        return datetime.fromtimestamp(self.best.timestamp() + seconds, UTC)

    def text(self, wall: datetime | float) -> str:
        """A wall time as people of this house read it: "16:40", with the day if it is not today."""
        moment = (
            datetime.fromtimestamp(wall, self.zone) if isinstance(wall, float) else wall.astimezone(self.zone)
        )
        today = self.best.astimezone(self.zone).date()
        shown = moment.strftime("%H:%M" if moment.date() == today else "%a %H:%M")
        return When(shown, moment.timestamp())


def settle(memory: ClockMemory, moment: Moment, zone: ZoneInfo, *, stepping: bool = True) -> Now:
    """This moment's Now; the memory learns what may be trusted."""
    steady, wall = moment.steady, moment.wall.timestamp()
    seconds = max(0.0, steady - memory.last_steady) if memory.last_steady is not None else 0.0
    before, doubted = memory.offset, memory.doubted_since is not None
    jump = _judge(memory, steady, wall)
    missed = _missed(memory, before, steady)
    if memory.pending:
        was_set = doubted or (before is not None and abs((memory.offset or before) - before) > TOLERANCE_SECONDS)
        missed = resolved(memory, steady, now=was_set)
    elif memory.proven_at is not None:
        resolved(memory, steady, now=False)
    if memory.settling_seconds is not None:  # just awake: the wall clock may still be set right
        memory.settling_until, memory.settling_seconds = steady + memory.settling_seconds, None
        memory.woken_at = steady if memory.by_wall else None
    if stepping:
        memory.last_steady = steady
    if memory.doubted_since is None:
        memory.last_wall = wall
    best = (
        steady + memory.offset if memory.offset is not None else max(wall, memory.last_wall or EARLIEST_WALL)
    )
    week = memory.frozen_wall if memory.frozen_wall is not None else wall
    return Now(
        steady,
        seconds,
        datetime.fromtimestamp(week, UTC),
        datetime.fromtimestamp(best, UTC),
        memory.doubted_since,
        zone,
        jump,
        missed,
    )


def _missed(memory: ClockMemory, before: float | None, steady: float) -> float:
    """A computer without a clock of its own takes up where it went down, and learns only later for how long it was."""
    settling = memory.settling_until is not None and steady < memory.settling_until
    if memory.woken_at is None or before is None or memory.offset is None or not settling:
        return 0.0
    ahead = memory.offset - before
    return ahead if ahead > TOLERANCE_SECONDS else 0.0


def believe(memory: ClockMemory, steady: float) -> bool:
    """Take the wall clock as it stands, on the owner's word; False where it is absurdly early."""
    offset = memory.candidate
    if memory.doubted_since is None or offset is None or steady + offset < EARLIEST_WALL:
        return False
    memory.offset, memory.last_wall = offset, steady + offset
    memory.doubted_since = memory.frozen_wall = memory.candidate = memory.candidate_since = None
    return True


def _judge(memory: ClockMemory, steady: float, wall: float) -> float:
    """Believe or doubt the wall clock; gives the seconds it is off by, while doubted."""
    offset = wall - steady
    if _fits(memory, steady, offset, wall):
        leapt(memory, steady, offset)
        memory.offset = offset
        memory.doubted_since = memory.frozen_wall = memory.candidate = memory.candidate_since = None
        return 0.0
    known = memory.offset if memory.offset is not None else (memory.last_wall or EARLIEST_WALL) - steady
    if memory.doubted_since is None:
        memory.doubted_since = steady
        memory.frozen_wall = steady + known
    if memory.candidate is None or abs(offset - memory.candidate) > TOLERANCE_SECONDS:
        memory.candidate_since = steady
    memory.candidate = offset
    return offset - known


def _fits(memory: ClockMemory, steady: float, offset: float, wall: float) -> bool:
    if wall < EARLIEST_WALL:
        return False
    if memory.offset is None:
        known = earliest(memory)
        return known is None or wall >= known - TOLERANCE_SECONDS or _went_evenly(memory, steady, wall)
    if abs(offset - memory.offset) <= TOLERANCE_SECONDS:
        return True
    settling = memory.settling_until is not None and steady < memory.settling_until
    forward = offset > memory.offset or may_be_set_to(memory, wall, TOLERANCE_SECONDS)
    return (settling and forward) or _went_evenly(memory, steady, wall)


def _went_evenly(memory: ClockMemory, steady: float, wall: float) -> bool:
    """A new time is believed once it has gone evenly for two hours and is not absurdly early."""
    since = memory.candidate_since
    if since is None or memory.candidate is None or abs(wall - steady - memory.candidate) > TOLERANCE_SECONDS:
        return False
    floor = (earliest(memory) or EARLIEST_WALL) - BACKWARD_SECONDS
    return wall >= floor and steady - since >= BELIEVE_AFTER_SECONDS
