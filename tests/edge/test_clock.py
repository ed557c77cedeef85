"""The steady clock never jumps, goes on across restarts, and the wall is never hidden."""

from __future__ import annotations

import asyncio
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from thermostatd.edge.clock import Clock, Machine, Stamp, boot_id, boot_seconds, steady_after

NOON = datetime(2026, 1, 15, 12, 0, tzinfo=UTC)  # invented


@dataclass
class Fake:
    """A machine whose time is a number that a test adds to."""

    seconds: float = 100.0
    boot: str = "boot-a"
    wall: datetime = NOON

    def machine(self) -> Machine:
        return Machine(lambda: self.seconds, lambda: self.boot, lambda: self.wall)

    def passes(self, seconds: float) -> None:
        self.seconds += seconds
        self.wall += timedelta(seconds=seconds)


def test_steady_ignores_the_wall() -> None:
    """A wall set back an hour is seen in the moment, and moves the steady clock not at all."""
    fake = Fake()
    clock = Clock(machine=fake.machine())
    fake.passes(10.0)
    fake.wall -= timedelta(hours=1)
    moment = clock.moment()
    assert moment.steady == 10.0
    assert moment.wall == NOON + timedelta(seconds=10) - timedelta(hours=1)


def test_faster_than_life() -> None:
    """At sixty times life both clocks run sixty times as fast, from the wall where they were started."""
    fake = Fake()
    start = datetime(2026, 2, 1, 7, 0, tzinfo=timezone(timedelta(hours=1)))
    clock = Clock(60.0, start, 500.0, fake.machine())
    fake.passes(10.0)
    assert clock.now() == 1100.0
    assert clock.moment().wall == datetime(2026, 2, 1, 6, 10, tzinfo=UTC)


def test_same_boot_is_exact() -> None:
    """Within one boot the time between stop and start is counted exactly, whatever the wall did."""
    fake = Fake()
    stamp = Clock(base_steady=7000.0, machine=fake.machine()).stamp()
    fake.passes(123.25)
    fake.wall = datetime(1970, 1, 1, tzinfo=UTC)
    assert Clock.resume(stamp, machine=fake.machine()).now() == 7123.25


@pytest.mark.parametrize(
    ("wall", "counted"),
    [
        (NOON + timedelta(hours=2), 7200.0),
        (NOON - timedelta(hours=2), 0.0),
        (datetime(1970, 1, 1, tzinfo=UTC), 0.0),
        (NOON + timedelta(days=399), 399 * 86400.0),
        (NOON + timedelta(days=401), 0.0),
    ],
)
def test_another_boot_counts_the_wall_if_it_can_be_believed(wall: datetime, counted: float) -> None:
    """After a reboot the wall's gap counts only forward and under 400 days."""
    fake = Fake()
    stamp = Clock(base_steady=7000.0, machine=fake.machine()).stamp()
    fake.seconds, fake.boot, fake.wall = 3.0, "boot-b", wall
    assert Clock.resume(stamp, machine=fake.machine()).now() == 7000.0 + counted


@pytest.mark.parametrize(
    "stamp",
    [
        None,
        Stamp("boot-a", 1.0, float("nan"), NOON.isoformat()),
    ],
)
def test_no_usable_stamp_begins_at_zero(stamp: Stamp | None) -> None:
    """Without a stamp, or with one that is no number, the steady clock begins at zero."""
    assert Clock.resume(stamp, machine=Fake().machine()).now() == 0.0


@pytest.mark.parametrize("wall_iso", ["", "rubbish", "2026-01-15T12:00:00"])
def test_an_unreadable_wall_counts_nothing(wall_iso: str) -> None:
    """A stamp of another boot with an unreadable wall goes on from its steady second."""
    assert steady_after(Stamp("boot-z", 1.0, 42.0, wall_iso), Fake().machine()) == 42.0


@given(
    some.floats(0, 1e9), some.floats(-1e9, 1e9), some.booleans(),
    some.datetimes(timezones=some.just(UTC)),
)  # fmt: skip
def test_steady_never_goes_back(steady: float, gap: float, same_boot: bool, wall: datetime) -> None:
    """Whatever the machine says after a restart, steady time is not before the stamp, nor 400 days after it."""
    stamp = Stamp("boot-a", 1e9, steady, NOON.isoformat())
    fake = Fake(1e9 + gap, "boot-a" if same_boot else "boot-b", wall)
    resumed = Clock.resume(stamp, machine=fake.machine()).now()
    assert steady <= resumed <= steady + 400 * 86400.0


def test_a_clock_needs_a_speed_and_a_zone() -> None:
    """A speed of zero, or a start without zone, is refused."""
    for speed in (0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="over zero"):
            Clock(speed)
    with pytest.raises(ValueError, match="time zone"):
        Clock(2.0, datetime(2026, 1, 1))  # noqa: DTZ001


def test_this_machine() -> None:
    """Boot seconds agree with the kernel's /proc/uptime (proc(5): suspend included), the wall with time.time()."""
    assert abs(boot_seconds() - float(Path("/proc/uptime").read_text().split()[0])) < 1.0
    assert len(boot_id()) == 36
    clock = Clock()
    stamp = clock.stamp()
    assert abs(clock.moment().wall.timestamp() - time.time()) < 1.0
    assert datetime.fromisoformat(stamp.wall_iso).utcoffset() == timedelta(0)
    assert 0 <= Clock.resume(stamp).now() - stamp.steady < 1.0


def test_sleep_until_is_scaled() -> None:
    """At a thousand times life a minute is slept in sixty milliseconds, never too short; the past returns at once."""
    clock = Clock(1000.0)

    async def sleep() -> None:
        await clock.sleep_until(clock.now() - 5.0)
        began, end = time.monotonic(), clock.now() + 60.0
        await clock.sleep_until(end)
        assert clock.now() >= end
        assert 0.055 < time.monotonic() - began < 2.0

    asyncio.run(sleep())
