"""The only clock: a wall that people read and a steady second that never jumps.

Rules: the steady clock counts suspend (CLOCK_BOOTTIME) and goes on across restarts; the wall at life
speed is read anew each time, so that a wrong wall is seen and never hidden; nobody else reads a clock.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from thermostatd.core.values import Moment

LONGEST_GAP_SECONDS = 400 * 86400.0
LONGEST_NAP_SECONDS = 20.0
_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True, slots=True)
class Stamp:
    """One instant, written down so that the steady clock can go on after a restart.

    `boot_seconds` is the machine's own clock since boot; `steady` is ours; `wall_iso` has an offset.
    """

    boot_id: str
    boot_seconds: float
    steady: float
    wall_iso: str


def boot_seconds() -> float:
    """Seconds since the machine was started, suspend included."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def boot_id() -> str:
    """A word that is new at each start of the machine; empty where the system tells none."""
    try:
        return _BOOT_ID.read_text("ascii").strip()
    except OSError:
        return ""


def utc_now() -> datetime:
    """The machine's wall clock, aware."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Machine:
    """Where a clock reads: the machine's three sources. Tests put their own here."""

    boot_seconds: Callable[[], float] = boot_seconds
    boot_id: Callable[[], str] = boot_id
    wall: Callable[[], datetime] = utc_now


THIS_MACHINE = Machine()


class Clock:
    """Both clocks, `speed` times as fast as life.

    At life speed without `start_wall` the wall is the machine's. Otherwise it starts at `start_wall`
    (left out: now) and runs with the steady clock. Raises ValueError for a speed that is not over
    zero, or a `start_wall` without a time zone.
    """

    def __init__(
        self,
        speed: float = 1.0,
        start_wall: datetime | None = None,
        base_steady: float = 0.0,
        machine: Machine = THIS_MACHINE,
    ) -> None:
        if not (math.isfinite(speed) and speed > 0):
            raise ValueError(f"the clock's speed is over zero, not {speed}")
        if start_wall is not None and start_wall.tzinfo is None:
            raise ValueError("start_wall needs a time zone: use datetime.now(UTC)")
        self.speed = speed
        self._machine = machine
        self._base_steady = base_steady
        self._zero = machine.boot_seconds()
        own_wall = speed != 1.0 or start_wall is not None
        self._start_wall = (start_wall or machine.wall()).astimezone(UTC) if own_wall else None

    @classmethod
    def resume(
        cls,
        stamp: Stamp | None,
        speed: float = 1.0,
        start_wall: datetime | None = None,
        machine: Machine = THIS_MACHINE,
    ) -> Clock:
        """A clock whose steady seconds go on from `stamp` (None: from zero), plus what passed meanwhile."""
        return cls(speed, start_wall, steady_after(stamp, machine), machine)

    @property
    def own_wall(self) -> bool:
        """Whether the wall is its own, and no machine's."""
        return self._start_wall is not None

    def now(self) -> float:
        """Steady seconds."""
        return self._steady_at(self._machine.boot_seconds())

    def moment(self) -> Moment:
        """This instant on both clocks; `wall` is UTC."""
        steady = self.now()
        return Moment(wall=self._wall_at(steady), steady=steady)

    def stamp(self) -> Stamp:
        """This instant, to be stored."""
        machine_seconds = self._machine.boot_seconds()
        steady = self._steady_at(machine_seconds)
        return Stamp(self._machine.boot_id(), machine_seconds, steady, self._wall_at(steady).isoformat())

    async def sleep_until(self, steady: float) -> None:
        """Sleep until a steady second; at once if it has passed. Wakes within 20 s after a suspend."""
        while (left := steady - self.now()) > 0:
            # asyncio's own clock stands still in suspend, so that one long sleep would be late
            await asyncio.sleep(min(left / self.speed, LONGEST_NAP_SECONDS))

    def _steady_at(self, machine_seconds: float) -> float:
        return self._base_steady + (machine_seconds - self._zero) * self.speed

    def _wall_at(self, steady: float) -> datetime:
        if self._start_wall is None:
            return self._machine.wall()
        return datetime.fromtimestamp(self._start_wall.timestamp() + steady - self._base_steady, UTC)


def steady_after(stamp: Stamp | None, machine: Machine = THIS_MACHINE) -> float:
    """Steady seconds now, given the last stamp: never less than it, never past what can be believed.

    The same boot: exact. Another boot: the wall tells how long it was, if it is later than the stamp
    and by less than 400 days; otherwise no time is taken to have passed.
    """
    if stamp is None or not math.isfinite(stamp.steady):
        return 0.0
    if stamp.boot_id and stamp.boot_id == machine.boot_id():
        gap = machine.boot_seconds() - stamp.boot_seconds
    else:
        gap = _wall_gap(stamp, machine)
    return stamp.steady + (gap if 0 <= gap < LONGEST_GAP_SECONDS else 0.0)


def _wall_gap(stamp: Stamp, machine: Machine) -> float:
    try:
        then = datetime.fromisoformat(stamp.wall_iso)
    except ValueError:
        return 0.0
    return (machine.wall() - then).total_seconds() if then.tzinfo else 0.0
