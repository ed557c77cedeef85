"""The embedded broker, with strangers' commands and our own connection."""

from __future__ import annotations

import logging
import socket
import subprocess
import threading

import pytest

from tests.parts.mosquitto import wait_until
from tests.parts.steady import Steady
from thermostatd.core.house import Broker
from thermostatd.edge.broker import Feed, client_id_of
from thermostatd.edge.embedded_broker import EmbeddedBroker, EmbeddedBrokerError


def test_with_a_feed_and_strangers(embedded: EmbeddedBroker) -> None:
    """Our connection speaks 3.1.1 to it at once, hears mosquitto_pub, and is heard by mosquitto_sub."""
    feed = Feed(Broker(port=embedded.port, serve=True), client_id_of("feed"), Steady())
    feed.want("yard/air")
    feed.start()
    try:
        assert wait_until(lambda: feed.connected, 3)
        command = ["mosquitto_pub", "-p", str(embedded.port), "-t", "yard/air", "-m", "4.5", "-q", "1"]
        subprocess.run(command, check=True, timeout=5)
        got: list[bytes] = []

        def heard() -> bool:
            got.extend(message.payload for message in feed.drain())
            return bool(got)

        assert wait_until(heard)
        assert got == [b"4.5"]
        assert feed.publish("told", "by us", retain=True)
        command = ["mosquitto_sub", "-p", str(embedded.port), "-t", "told", "-C", "1", "-W", "5"]
        assert subprocess.run(command, capture_output=True, text=True, timeout=8).stdout == "by us\n"
    finally:
        feed.stop()


def test_stop_frees_port_and_thread() -> None:
    """After stop nobody listens, no thread is left, and it can be started again on the same port."""
    broker = EmbeddedBroker(port=0)
    for _ in range(2):
        broker.start()
        socket.create_connection(("127.0.0.1", broker.port), 2).close()
        broker.stop()
        with pytest.raises(OSError, match="refused"):
            socket.create_connection(("127.0.0.1", broker.port), 2)
    assert not [thread for thread in threading.enumerate() if thread.name == "embedded broker"]


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "::", "example.org", ""])
def test_only_on_loopback(host: str) -> None:
    """It lets anyone in, so any address that others can reach is refused, with the mend."""
    with pytest.raises(EmbeddedBrokerError, match=r'write host = "127.0.0.1"'):
        EmbeddedBroker(host)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.0.0.9"])
def test_loopback_addresses(host: str) -> None:
    """Every address of this machine's own loop is fine."""
    EmbeddedBroker(host)


def test_a_taken_port_is_named(embedded: EmbeddedBroker) -> None:
    """Where another broker listens, the error names the port and what to do."""
    with pytest.raises(EmbeddedBrokerError, match=rf"Port {embedded.port} .* is taken.*\[broker\] port"):
        EmbeddedBroker(port=embedded.port).start()


def test_it_is_silent(caplog: pytest.LogCaptureFixture) -> None:
    """Starting, a client that drops its connection in mid-word, and stopping log nothing."""
    broker = EmbeddedBroker(port=0)
    with caplog.at_level(logging.DEBUG):
        broker.start()
        with socket.create_connection(("127.0.0.1", broker.port), 2) as stranger:
            stranger.sendall(b"\x10\x7f\x00\x04MQ")
        with socket.create_connection(("127.0.0.1", broker.port), 2) as stranger:
            stranger.sendall(b"GET / HTTP/1.1\r\n\r\n")
        wait_until(lambda: False, 0.3)
        broker.stop()
    assert [record.getMessage() for record in caplog.records if record.name != "asyncio"] == []
