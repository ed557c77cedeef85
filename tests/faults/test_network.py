"""Fault 8, at night: the house's network goes, both ways or one way, between the daemon and the broker (as root).

Rules: the daemon lives in a network namespace of its own, behind a real cable of the kernel's (veth); broker and plug
stay outside. A cable is cut by setting it down; one way is lost by sending it to a neighbour that is not there.
"""

from __future__ import annotations

import contextlib
import ctypes
import itertools
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.daemon import home as homes
from tests.daemon.home import Home
from tests.faults.bounds import CHAIN
from tests.faults.conftest import Measure, warm_up
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug

OUTSIDE, INSIDE = "10.213.77.1", "10.213.77.2"
NOBODY = "02:00:00:00:00:99"
_COUNT = itertools.count()
CLONE_NEWNET = 0x40000000  # setns(2)


def ip(*words: str) -> None:
    """The ip command."""
    subprocess.run(["ip", *words], check=True, capture_output=True)


class Wing:
    """A namespace with one cable to it."""

    def __init__(self) -> None:
        self.name = f"h{os.getpid() % 100000}{next(_COUNT)}"
        self.cable, self.inner = f"{self.name}o", f"{self.name}i"
        ip("netns", "add", self.name)
        ip("link", "add", self.cable, "type", "veth", "peer", "name", self.inner, "netns", self.name)
        ip("addr", "add", f"{OUTSIDE}/30", "dev", self.cable)
        ip("link", "set", self.cable, "up")
        self.inside("addr", "add", f"{INSIDE}/30", "dev", self.inner)
        self.inside("link", "set", self.inner, "up")
        self.inside("link", "set", "lo", "up")

    def inside(self, *words: str) -> None:
        """The ip command in there."""
        ip("-n", self.name, *words)

    def cut(self) -> None:
        """Both ways."""
        ip("link", "set", self.cable, "down")

    def mend(self) -> None:
        """The cable is in again."""
        ip("link", "set", self.cable, "up")

    def deafen(self) -> None:
        """What the broker sends is lost; what the daemon sends arrives."""
        ip("neigh", "replace", INSIDE, "lladdr", NOBODY, "dev", self.cable, "nud", "permanent")

    def mute(self) -> None:
        """What the daemon sends is lost; what the broker sends arrives."""
        self.inside("neigh", "replace", OUTSIDE, "lladdr", NOBODY, "dev", self.inner, "nud", "permanent")

    def hear(self) -> None:
        """Both ways again."""
        ip("neigh", "del", INSIDE, "dev", self.cable)

    def speak(self) -> None:
        """Both ways again."""
        self.inside("neigh", "del", OUTSIDE, "dev", self.inner)

    @contextlib.contextmanager
    def visit(self) -> Iterator[None]:
        """This thread's sockets are made in there."""
        libc = ctypes.CDLL(None, use_errno=True)
        with open("/proc/thread-self/ns/net") as own, open(f"/run/netns/{self.name}") as other:
            assert libc.setns(other.fileno(), CLONE_NEWNET) == 0, os.strerror(ctypes.get_errno())
            try:
                yield
            finally:
                assert libc.setns(own.fileno(), CLONE_NEWNET) == 0

    def close(self) -> None:
        """Gone, with its cable."""
        ip("link", "del", self.cable)
        ip("netns", "del", self.name)


class HomeInside(Home):
    """A daemon in the wing; its pages are asked from in there."""

    wing: Wing

    def call(self, *words: Any, **more: Any) -> Any:
        """See Home.call."""
        with self.wing.visit():
            return super().call(*words, **more)


@pytest.fixture
def wing() -> Iterator[Wing]:
    if os.getuid() != 0:
        pytest.skip("namespaces need root")
    made = Wing()
    yield made
    made.close()


@pytest.fixture
def world(
    tmp_path: Path, wing: Wing, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[HomeInside, Mosquitto, StrangersPlug]]:
    """Broker and plug out here, the daemon in there."""
    monkeypatch.setattr(homes, "COMMAND", ["ip", "netns", "exec", wing.name, *homes.COMMAND])
    port = free_port()
    broker = Mosquitto(tmp_path / "broker", port=port, extra=f"listener {port} {OUTSIDE}\n")
    with broker, StrangersPlug(port) as plug:
        inside = HomeInside(tmp_path / "home", port, broker_more=f'host = "{OUTSIDE}"')
        inside.wing = wing
        with inside as home:
            yield home, broker, plug


@pytest.mark.night
@pytest.mark.timeout(600)
@pytest.mark.parametrize("way", ["both ways", "from the broker", "to the broker"])
def test_a_network_that_is_gone(
    wing: Wing, world: tuple[HomeInside, Mosquitto, StrangersPlug], measure: Measure, way: str
) -> None:
    """The broker's last word ends the heat though nobody hangs up; the daemon knows; back again it heats, unasked."""
    home, broker, plug = world
    break_, mend = {
        "both ways": (wing.cut, wing.mend),
        "from the broker": (wing.deafen, wing.hear),
        "to the broker": (wing.mute, wing.speak),
    }[way]
    warm_up(broker, plug)
    break_()
    bound = CHAIN["its machine goes from the network"]
    measure(8, f"network gone, {way}: OFF by the broker's last word", bound, lambda: not plug.on)
    measure(8, f"network gone, {way}: the daemon knows", 45.0, lambda: home.health().get("broker") is False)
    mend()
    measure(8, f"network back after {way}: connected again", 60.0, lambda: home.health().get("broker"))
    broker.publish("study/air", "17.0")
    measure(8, f"network back after {way}: heats again", 35.0, lambda: plug.on)
    assert all(float(order.payload.split()[1]) <= 1200 for order in plug.orders if " " in order.payload)
    assert wait_until(lambda: home.health().get("ok") is True, 20)
    assert "Traceback" not in home.log
