"""The table of faults: each test measures how long the heater stayed on after the fault, against a stated bound.

Rules: real broker, real plug, real daemon; the table is printed at the end of the run.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

_ROWS: list[tuple[int, str, float, float]] = []


@dataclass
class Measure:
    """Takes the times of one scenario. A time over its bound fails the test."""

    rows: list[tuple[int, str, float, float]] = field(default_factory=lambda: _ROWS)

    def __call__(self, number: int, what: str, bound: float, done: Callable[[], Any]) -> float:
        """Wait until `done()`, at most `bound` seconds of life, and write it down."""
        began = time.monotonic()
        came = wait_until(done, bound, 0.02)
        took = time.monotonic() - began
        self.rows.append((number, what, bound, took if came else float("inf")))
        assert came, f"{what}: not within {bound} s"
        return took


@pytest.fixture
def measure() -> Measure:
    return Measure()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


@pytest.fixture
def plug(broker: Mosquitto) -> Iterator[StrangersPlug]:
    with StrangersPlug(broker.port) as online:
        yield online


@pytest.fixture
def home(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> Iterator[Home]:
    """A house whose sensor counts as silent after eight seconds."""
    with Home(tmp_path / "home", broker.port, sensor_more=', stale_after = "8 s"') as running:
        yield running


def room(home: Home) -> Any:
    """What the API says of the study."""
    return home.house()["rooms"][0]


def warm_up(broker: Mosquitto, plug: StrangersPlug) -> None:
    """A cold reading, and the heater runs."""
    broker.publish("study/air", "17.0")
    assert wait_until(lambda: plug.on, 8)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    if not _ROWS:
        return
    terminalreporter.write_sep("-", "faults: seconds until what is stated, on real parts")
    for number, what, bound, took in sorted(_ROWS):
        terminalreporter.write_line(f"{number:3d}  {what:<78} bound {bound:6.1f}  measured {took:6.2f}")
