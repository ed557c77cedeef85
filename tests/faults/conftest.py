"""The table of faults: each test measures how long the heater stayed on after the fault, against a stated bound.

Rules: real broker, real plug, real daemon; tests/conftest.py prints the table at the end of the run.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.home import Home
from tests.parts import fixtures
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

broker, plug = fixtures.broker, fixtures.plug


@dataclass
class Measure:
    """Takes the times of one scenario. A time over its bound fails the test."""

    node: pytest.Item

    def note(self, number: int, what: str, bound: float, took: float) -> None:
        """A row of the table; it goes with the test's report, from whichever process ran it."""
        self.node.user_properties.append(("fault", [number, what, bound, took]))

    def __call__(self, number: int, what: str, bound: float, done: Callable[[], Any]) -> float:
        """Wait until `done()`, at most `bound` seconds of life, and write it down."""
        began = time.monotonic()
        came = wait_until(done, bound, 0.02)
        took = time.monotonic() - began
        self.note(number, what, bound, took if came else float("inf"))
        assert came, f"{what}: not within {bound} s"
        return took


@pytest.fixture
def measure(request: pytest.FixtureRequest) -> Measure:
    return Measure(request.node)


@pytest.fixture
def home(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> Iterator[Home]:
    """A house whose sensor counts as silent after eight seconds."""
    with Home(tmp_path / "home", broker.port, sensor_more=', stale_after = "8 s"') as running:
        yield running


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[tuple[str, list[float]]]:
    """A service manager's socket (sd_notify(3)): its path, and when each WATCHDOG=1 came."""
    came: list[float] = []
    path = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(path)
        listener.settimeout(0.2)
        ended = threading.Event()

        def listen() -> None:
            while not ended.is_set():
                with contextlib.suppress(TimeoutError):
                    if b"WATCHDOG=1" in listener.recv(4096):
                        came.append(time.monotonic())

        thread = threading.Thread(target=listen)
        thread.start()
        yield path, came
        ended.set()
        thread.join(2)


def room(home: Home) -> Any:
    """What the API says of the study."""
    return home.house()["rooms"][0]


def warm_up(broker: Mosquitto, plug: StrangersPlug) -> None:
    """A cold reading, and the heater runs."""
    broker.publish("study/air", "17.0")
    assert wait_until(lambda: plug.on, 8)
