"""Live updates on a real port: server-sent events."""

from __future__ import annotations

import http.client
import time
from collections.abc import Iterator

import pytest

from tests.browser.served import Served
from tests.edge.pages.conftest import joined
from tests.edge.pages.double import Double
from thermostatd.edge.pages.live import STREAMS_A_DEVICE


@pytest.fixture
def served(house: Double) -> Iterator[Served]:
    """The pages on a port of their own."""
    with Served(house, open=False) as running:
        yield running


def opened(served: Served, token: str) -> tuple[http.client.HTTPConnection, http.client.HTTPResponse]:
    """A stream, its headers read."""
    line = http.client.HTTPConnection(served.address, timeout=5)
    line.request("GET", "/live", headers={"cookie": f"device={token}", "accept-encoding": "gzip"})
    return line, line.getresponse()


def event(answer: http.client.HTTPResponse) -> dict[str, str]:
    """The next event's fields."""
    fields: dict[str, str] = {}
    while line := answer.readline().decode().rstrip("\n"):
        name, _, value = line.partition(": ")
        fields[name] = value
    return fields


def test_a_change_is_told_within_a_second(served: Served, house: Double) -> None:
    """A stream greets, then tells each change at once, uncompressed and unkept."""
    line, answer = opened(served, joined(house, "household", "Ana"))
    assert answer.headers["content-type"].startswith("text/event-stream")
    assert answer.headers["cache-control"] == "no-store"
    assert "content-encoding" not in answer.headers
    assert event(answer)["event"] == "hello"
    asked = time.monotonic()
    served.call(house.change)
    assert event(answer)["event"] == "change"
    assert time.monotonic() - asked < 1.0
    line.close()


def test_streams_of_one_device_are_limited(served: Served, house: Double) -> None:
    """One device cannot hold more than a few streams; another may still listen, and a closed one frees its place."""
    flood, calm = joined(house, "household", "Flood"), joined(house, "household", "Calm")
    lines = [opened(served, flood) for _ in range(STREAMS_A_DEVICE + 1)]
    assert [answer.status for _, answer in lines] == [200] * STREAMS_A_DEVICE + [429]
    other = opened(served, calm)
    assert other[1].status == 200
    for line, answer in lines:
        answer.close()
        line.close()
    deadline = time.monotonic() + 5
    status = 429
    while status == 429 and time.monotonic() < deadline:
        served.call(house.change)
        time.sleep(0.1)
        line, answer = opened(served, flood)
        status = answer.status
        answer.close()
        line.close()
    assert status == 200
    other[0].close()


def test_a_stream_ends_when_its_phone_is_forgotten(served: Served, house: Double) -> None:
    """A forgotten device hears nothing more."""
    line, answer = opened(served, joined(house, "household", "Ana"))
    event(answer)
    served.call(house.known.clear)
    served.call(house.change)
    assert answer.readline() == b""
    line.close()


def test_the_server_ends_with_a_stream_open(house: Double) -> None:
    """An open stream does not keep the server from ending."""
    with Served(house, open=False) as running:
        line, answer = opened(running, joined(house, "household", "Ana"))
        event(answer)
        began = time.monotonic()
    assert time.monotonic() - began < 2
    assert event(answer) == {}
    line.close()


def test_slow_bodies_do_not_hold_others_up(served: Served, house: Double) -> None:
    """Half-sent requests wait by themselves while others are answered."""
    token = joined(house, "household", "Ana")
    halves = []
    for _ in range(20):
        half = http.client.HTTPConnection(served.address, timeout=5)
        half.putrequest("POST", "/ask")
        half.putheader("content-length", "40")
        half.putheader("origin", served.url)
        half.putheader("cookie", f"device={token}")
        half.endheaders(b"room=st")
        halves.append(half)
    line = http.client.HTTPConnection(served.address, timeout=5)
    line.request("GET", "/api/house", headers={"cookie": f"device={token}"})
    assert line.getresponse().status == 200
    for half in halves:
        half.close()
