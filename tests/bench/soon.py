"""How soon a request and a reading reach the plug: in ticks of the real daemon on a real broker."""

from __future__ import annotations

import json
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

from tests.bench.processes import COMMAND, Running, running
from tests.bench.row import Row
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug

TICK_SECONDS = 2.0
TURNS = 3
MOST_TICKS_ASK, MOST_TICKS_READING = 1.0, 2.0
ROOM = "room"
FILE = """
[house]
tick = "2 s"
[broker]
port = {broker}
[pages]
listen = "127.0.0.1:{page}"
open = true
[[room]]
name = "room"
sensor = {{ topic = "room/air" }}
household = {{ lowest = 15, highest = 24 }}
usual = [{{ at = "00:00", celsius = 20 }}]
[[room.heater]]
name = "heater"
watts = 600
min_on = "1 s"
min_off = "1 s"
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "mqtt", tell = "plug/7/set", shows = {{ topic = "plug/7", pointer = "/on" }}, \
draws = {{ topic = "plug/7", pointer = "/watts" }}, timer = {{ payload = "true {{seconds}}" }} }}
"""


def measure(folder: Path) -> list[Row]:
    """The slowest of three of each, begun at different parts of a tick."""
    page, slowest = free_port(), {"ask": 0.0, "reading": 0.0}
    with Mosquitto(folder / "broker") as broker, StrangersPlug(broker.port) as plug:
        path = folder / "house.toml"
        path.write_text(FILE.format(broker=broker.port, page=page))
        command = [*COMMAND, "run", str(path), "--state", str(folder / "state")]
        with running(command, page, folder / "daemon.log") as daemon:
            broker.publish("room/air", "21.5")
            assert wait_until(lambda: len(plug.orders) > 0, 20), "the plug was told nothing"
            time.sleep(2 * TICK_SECONDS)
            for turn in range(TURNS):
                for kind, act, on in _acts(broker, daemon):
                    time.sleep(TICK_SECONDS * (0.6 + 0.3 * turn))
                    slowest[kind] = max(slowest[kind], _seconds_until(plug, on, act))
    return [
        Row(
            f"{what} reaches the plug, slowest of {2 * TURNS}",
            slowest[kind] / TICK_SECONDS,
            most,
            "ticks",
            f"{slowest[kind]:.2f} s at a tick of {TICK_SECONDS:g} s",
        )
        for kind, what, most in (
            ("ask", "a request", MOST_TICKS_ASK),
            ("reading", "a reading", MOST_TICKS_READING),
        )
    ]


def _acts(broker: Mosquitto, daemon: Running) -> list[tuple[str, Callable[[], None], bool]]:
    """What is done, and whether the plug should be on after it: target 20, then 16 is asked, then 23."""
    return [
        ("reading", lambda: broker.publish("room/air", "18.5"), True),
        ("ask", lambda: _post(daemon, "ask", {"room": ROOM, "celsius": 16}), False),
        ("ask", lambda: _post(daemon, "ask", {"room": ROOM, "celsius": 20}), True),
        ("reading", lambda: broker.publish("room/air", "21.5"), False),
    ]


def _seconds_until(plug: StrangersPlug, on: bool, act: Callable[[], None]) -> float:
    assert plug.on is not on, f"the plug should be {'off' if on else 'on'} before this"
    begun = time.perf_counter()
    act()
    assert wait_until(lambda: plug.on is on, 15 * TICK_SECONDS, 0.005), "the plug was not switched"
    return time.perf_counter() - begun


def _post(daemon: Running, what: str, body: dict[str, object]) -> None:
    asked = urllib.request.Request(
        f"{daemon.address}/api/{what}", json.dumps(body).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(asked, timeout=10) as answer:
        assert answer.status == 200
