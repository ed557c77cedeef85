"""Faults 6 to 8: a broker that dies, freezes, or sits behind a bad network."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.faults.bounds import CHAIN
from tests.faults.conftest import Measure, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.proxy import Proxy

# what a plug's own timer is shortened to here, so that a test need not wait twenty minutes
LAPSE = CHAIN["the broker dies"] / 100


class Impatient(StrangersPlug):
    """A plug whose timer runs a hundred times as fast: 20 minutes are 12 seconds."""

    def _switch(self, on: bool, seconds: float | None) -> None:
        super()._switch(on, None if seconds is None else seconds / 100.0)


@pytest.fixture
def hasty(broker: Mosquitto) -> Iterator[Impatient]:
    with Impatient(broker.port) as online:
        yield online


def test_killed(tmp_path: Path, broker: Mosquitto, hasty: Impatient, measure: Measure) -> None:
    """A broker killed with -9 leaves the plug to its own timer; back again, everything is told anew."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, hasty)
        assert home.ask(22.0)[0] == 200
        broker.kill()
        measure(6, "broker kill -9: health says so", 5.0, lambda: home.health().get("ok") is False)
        measure(6, "broker dead: OFF by the plug's own timer (1/100 scale)", LAPSE + 1, lambda: not hasty.on)
        assert home.ask(22.5)[0] == 200, "people may still ask"
        broker.start()
        hasty.offline()
        hasty.online()
        measure(6, "broker back: connected again", 20.0, lambda: home.health().get("broker"))
        broker.publish("study/air", "17.0")
        measure(6, "broker back: heats again", 8.0, lambda: hasty.on)
        assert home.house()["rooms"][0]["target"]["celsius"] == 22.5


@pytest.mark.night  # a minute of waiting for keepalives
def test_frozen(tmp_path: Path, broker: Mosquitto, hasty: Impatient, measure: Measure) -> None:
    """A frozen broker (half-open link): the plug's timer ends the heat, the keepalive finds out, a thaw mends it."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, hasty)
        broker.freeze()
        measure(
            7, "broker frozen: OFF by the plug's own timer (1/100 scale)", LAPSE + 1, lambda: not hasty.on
        )
        measure(7, "broker frozen: the daemon knows", 45.0, lambda: home.health().get("broker") is False)
        broker.thaw()
        measure(7, "broker thawed: connected again", 30.0, lambda: home.health().get("broker"))
        broker.publish("study/air", "17.0")
        measure(7, "broker thawed: heats again", 35.0, lambda: hasty.on)


def test_slow_and_corrupt(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure) -> None:
    """Half a second of delay, then pieces of one byte, then corrupted bytes: orders arrive or the link is made anew."""
    with Proxy(broker.port) as link, Home(tmp_path / "home", link.port) as home:
        warm_up(broker, plug)
        link.delay_seconds = 0.5
        broker.publish("study/air", "23.0")
        measure(8, "network with 0.5 s of delay: OFF", 6.0, lambda: not plug.on)
        link.delay_seconds = 0.0
        link.trickle = True
        broker.publish("study/air", "17.0")
        measure(8, "network of one-byte pieces: ON", 10.0, lambda: plug.on)
        link.trickle = False
        link.corrupt_next()
        broker.publish("study/air", "23.0")
        link.corrupt_next()
        measure(8, "corrupted bytes on the link: OFF", 20.0, lambda: _said(broker, "23.0", plug, on=False))
        assert wait_until(lambda: home.health().get("ok") is True, 20)


def _said(broker: Mosquitto, celsius: str, plug: StrangersPlug, *, on: bool) -> bool:
    """A sensor that tells its value again and again, as sensors do."""
    broker.publish("study/air", celsius)
    time.sleep(0.3)
    return plug.on is on


def test_hang(tmp_path: Path, broker: Mosquitto, hasty: Impatient, measure: Measure) -> None:
    """A link that hangs holds no ON beyond the plug's own timer, and no old ON comes out of it afterwards."""
    with Proxy(broker.port) as link, Home(tmp_path / "home", link.port) as home:
        warm_up(broker, hasty)
        link.hang()
        measure(8, "link hangs: OFF by the plug's own timer (1/100 scale)", LAPSE + 1, lambda: not hasty.on)
        link.reset()
        link.resume()
        assert wait_until(lambda: home.health().get("broker"), 20)
        assert wait_until(lambda: hasty.on, 20), "back on its own link, the plug is told what holds"
        broker.publish("study/air", "23.0")
        measure(8, "link back after a hang: a warm reading ends in OFF", 3.0, lambda: not hasty.on)
        assert not wait_until(lambda: hasty.on, 3), "no ON of before the hang may come out afterwards"
