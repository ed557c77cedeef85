"""A connection that another program takes over: what the link does with MQTT 5's "Session taken over"."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator

import pytest

from tests.parts.mosquitto import Mosquitto, wait_until
from thermostatd.core.house import Broker
from thermostatd.edge.broker_breaks import Breaks
from thermostatd.edge.broker_link import Link

CONNACK, DISCONNECT_TAKEN_OVER = b"\x20\x03\x00\x00\x00", b"\xe0\x01\x8e"


@pytest.fixture
def taking() -> Iterator[tuple[int, list[float]]]:
    """A listener that lets each client in and then sends it the packet by which a broker tells a takeover (MQTT 5,
    3.14): the mosquitto of the tests is too old to send it. Gives the port and when each client came."""
    came: list[float] = []
    server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        while True:
            try:
                line, _ = server.accept()
            except OSError:
                return
            with line:
                came.append(time.monotonic())
                line.recv(4096)
                line.sendall(CONNACK)
                time.sleep(0.3)
                line.sendall(DISCONNECT_TAKEN_OVER)
                time.sleep(0.3)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield server.getsockname()[1], came
    server.shutdown(socket.SHUT_RDWR)
    server.close()
    thread.join(2)


def test_taken_over(taking: tuple[int, list[float]]) -> None:
    """One takeover is enough: the link rests, and the trouble says that another program uses its client id."""
    port, came = taking
    link = Link(
        Broker(port=port), "td-both", on_message=lambda *_: None, on_up=lambda: None, breaks=Breaks(3.0)
    )
    link.start()
    try:
        assert wait_until(lambda: link.breaks.code == "client-id-taken", 5)
        assert wait_until(lambda: len(came) >= 2, 8)
        assert 2.5 < came[1] - came[0] < 6.0
    finally:
        link.stop()


def test_stopping_does_not_wait_for_the_rest(taking: tuple[int, list[float]]) -> None:
    """Who is told to stop while it rests ends at once."""
    link = Link(Broker(port=taking[0]), "td-both", on_message=lambda *_: None, on_up=lambda: None)
    link.start()
    assert wait_until(lambda: link.breaks.code is not None, 5)
    began = time.monotonic()
    link.stop()
    assert time.monotonic() - began < 2.5


def test_two_links_with_one_client_id(mosquitto: Mosquitto) -> None:
    """On a broker that does not say why, three losses within a minute make both rest."""
    links = [
        Link(
            mosquitto.house_broker(),
            "td-both",
            on_message=lambda *_: None,
            on_up=lambda: None,
            breaks=Breaks(60.0),
        )
        for _ in range(2)
    ]
    for link in links:
        link.start()
    try:
        assert wait_until(lambda: any(link.breaks.code == "link-breaks" for link in links), 20)
        time.sleep(3.0)
        connections = mosquitto.log.count("New client connected")
        time.sleep(3.0)
        assert mosquitto.log.count("New client connected") == connections <= 8
    finally:
        for link in links:
            link.stop()


def test_losses_that_lie_apart() -> None:
    """Three losses in more than a minute are none of a series."""
    at = [0.0]
    breaks = Breaks(now=lambda: at[0])
    for seconds in (0.0, 31.0, 61.0):
        at[0] = seconds
        breaks.lost(taken=False)
    assert breaks.code is None
    assert breaks.wait_seconds == 0.0
    at[0] = 62.0
    breaks.lost(taken=False)
    assert breaks.code == "link-breaks"
    assert breaks.wait_seconds == 300.0
    at[0] = 62.0 + 899.0
    assert breaks.code == "link-breaks"
    at[0] = 62.0 + 901.0
    assert breaks.code is None
