"""Fault 11: a wall clock that jumps under the running daemon (libfaketime; the steady clock is left alone)."""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.faults.conftest import Measure, room, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

LIBRARY = next(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"), None)
NO_BELL = {"FAKETIME_DONT_FAKE_MONOTONIC": "1", "DONT_FAKE_MONOTONIC": "1", "FAKETIME_NO_CACHE": "1"}


class Wall:
    """The wall clock that the daemon sees: set by a file."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.env = {"LD_PRELOAD": str(LIBRARY), "FAKETIME_TIMESTAMP_FILE": str(file), **NO_BELL}

    def off_by(self, **shift: float) -> None:
        """Go on from now, shifted."""
        seconds = timedelta(**shift).total_seconds()
        self.file.write_text(f"{seconds:+.0f}")

    def begin_at(self, when: datetime) -> None:
        """Go on from that moment."""
        self.file.write_text(f"{(when - datetime.now(when.tzinfo)).total_seconds():+.0f}")


@pytest.fixture
def wall(tmp_path: Path) -> Wall:
    assert LIBRARY is not None, "libfaketime is not installed: apt-get install faketime"
    found = Wall(tmp_path / "wall")
    found.off_by()
    return found


def _doubt(home: Home) -> bool:
    """Whether the log's last word on the clock is a doubt."""
    said = [line for line in home.log.splitlines() if "clock-doubted" in line or "clock-believed" in line]
    return bool(said) and "clock-doubted" in said[-1]


@pytest.mark.parametrize("hours", [1, -1])
def test_jump(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, wall: Wall, measure: Measure, hours: int
) -> None:
    """A wall clock set an hour on or back: ticks, asks and heat go on, the room holds its target, the doubt is said."""
    with Home(tmp_path / "home", broker.port, env=wall.env) as home:
        warm_up(broker, plug)
        assert home.ask(21.0, "next-step")[0] == 200
        wall.off_by(hours=hours)
        measure(11, f"wall clock {hours:+d} h: the doubt is known", 4.0, lambda: _doubt(home))
        assert room(home)["target"]["celsius"] == 21.0, "a timed request counts steady seconds"
        broker.publish("study/air", "23.0")
        measure(11, f"wall clock {hours:+d} h: a warm reading still ends in OFF", 4.0, lambda: not plug.on)
        broker.publish("study/air", "17.0")
        measure(11, f"wall clock {hours:+d} h: a cold one still heats", 5.0, lambda: plug.on)
        wall.off_by()
        measure(11, f"wall clock {hours:+d} h and back: believed again", 4.0, lambda: not _doubt(home))


def test_1970_at_start(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, wall: Wall, measure: Measure
) -> None:
    """Started in 1970 it keeps the frost floor and takes no usual week; set right, the week heats, unasked."""
    wall.begin_at(datetime(1970, 1, 1, 0, 5).astimezone())
    with Home(tmp_path / "home", broker.port, env=wall.env) as home:
        assert wait_until(lambda: home.house()["decided"], 8)
        broker.publish("study/air", "17.0")
        time.sleep(3)
        assert not plug.on
        assert room(home)["target"]["celsius"] < 10
        wall.off_by()
        broker.publish("study/air", "17.0")
        measure(11, "1970 at boot, clock set: heats by the usual week", 6.0, lambda: plug.on)
