"""The daemon's connection, on a real mosquitto."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.proxy import Proxy
from tests.parts.steady import Steady
from thermostatd.core.house import Broker
from thermostatd.edge.broker import Feed, Heard, client_id_of
from thermostatd.edge.broker_breaks import Breaks


@contextmanager
def feed_on(broker: Broker, *topics: str, keepalive_seconds: int = 15) -> Iterator[Feed]:
    """A started feed, stopped at the end."""
    feed = Feed(broker, client_id_of("feed", str(broker.port)), Steady(), keepalive_seconds=keepalive_seconds)
    for topic in topics:
        feed.want(topic)
    feed.start()
    try:
        yield feed
    finally:
        feed.stop()


def hear(feed: Feed, topic: str, seconds: float = 5.0) -> list[Heard]:
    """What is heard on a topic, as soon as there is something."""
    found: list[Heard] = []

    def some() -> bool:
        found.extend(message for message in feed.drain() if message.topic == topic)
        return bool(found)

    wait_until(some, seconds)
    return found


def test_hears_a_stranger(mosquitto: Mosquitto) -> None:
    """What a stranger publishes arrives with its payload, not retained, at a steady second."""
    with feed_on(mosquitto.house_broker(), "yard/air") as feed:
        assert wait_until(lambda: feed.connected)
        before = time.monotonic()
        mosquitto.publish("yard/air", "4.5")
        (message,) = hear(feed, "yard/air")
        assert (message.payload, message.retained) == (b"4.5", False)
        assert before <= message.at <= time.monotonic()


def test_retained_is_marked(mosquitto: Mosquitto) -> None:
    """A message that waited in the broker is marked as retained."""
    mosquitto.publish("yard/air", "4.5", retain=True)
    with feed_on(mosquitto.house_broker(), "yard/air") as feed:
        (message,) = hear(feed, "yard/air")
        assert message.retained


def test_a_flood_pushes_nothing_out(mosquitto: Mosquitto) -> None:
    """A thousand messages on one topic leave its latest, and leave the other topic's."""
    with feed_on(mosquitto.house_broker(), "loud", "still") as feed, feed_on_flood(mosquitto) as loud:
        assert wait_until(lambda: feed.connected and loud.connected)
        mosquitto.publish("still", "here")
        for number in range(1000):
            loud.publish("loud", str(number))
        loud.publish("loud", "last")
        got: dict[str, bytes] = {}
        most = 0

        def both() -> bool:
            nonlocal most
            waiting = feed.drain()
            most = max(most, len(waiting))
            got.update({message.topic: message.payload for message in waiting})
            return got.get("loud") == b"last" and "still" in got

        time.sleep(0.5)
        assert wait_until(both, 10)
        assert most <= 2


@contextmanager
def feed_on_flood(mosquitto: Mosquitto) -> Iterator[Feed]:
    """A second feed that publishes."""
    feed = Feed(mosquitto.house_broker(), client_id_of("flood"), Steady(), None)
    feed.start()
    try:
        yield feed
    finally:
        feed.stop()


def test_a_huge_payload_is_named_and_thrown_away(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """Ten megabytes are refused by name, and the connection lives on."""
    with feed_on(mosquitto.house_broker(), "big") as feed:
        assert wait_until(lambda: feed.connected)
        with feed_on_flood(mosquitto) as other:
            assert wait_until(lambda: other.connected)
            other.publish("big", b"x" * 10_000_000)
            (message,) = hear(feed, "big", 10)
            assert message.payload == b""
            assert "10000000 bytes" in (message.refused or "")
            other.publish("big", b"small")
            assert hear(feed, "big")[0].payload == b"small"


def test_alive_while_connected_and_false_after_stop(mosquitto: Mosquitto) -> None:
    """`alive` is retained true while connected and false once stopped."""
    with mosquitto.listening("thermostatd/#") as listener:
        with feed_on(mosquitto.house_broker()):
            assert listener.wait("thermostatd/alive", "true")
        assert listener.wait("thermostatd/alive", "false")
    with mosquitto.listening("thermostatd/#") as late:
        assert wait_until(lambda: late.heard("thermostatd/alive") == [(True, "thermostatd/alive", "false")])


def test_alive_turns_false_by_the_will(mosquitto: Mosquitto) -> None:
    """A connection that is cut makes the broker say that we are not alive."""
    with (
        Proxy(mosquitto.port) as proxy,
        mosquitto.listening("thermostatd/#") as listener,
        feed_on(mosquitto.house_broker(port=proxy.port)) as feed,
    ):
        assert wait_until(lambda: feed.connected)
        assert listener.wait("thermostatd/alive", "true")
        proxy.refuse()
        proxy.reset()
        assert listener.wait("thermostatd/alive", "false", 3)


def test_starts_with_the_broker_down(tmp_path: Path) -> None:
    """With nobody listening it says so, does not raise, and connects when the broker comes."""
    broker = Mosquitto(tmp_path)
    with feed_on(broker.house_broker(), "a") as feed:
        assert wait_until(lambda: feed.trouble is not None)
        assert "is the broker running" in (feed.trouble or "")
        assert feed.publish("a", "lost") is False
        with broker:
            assert wait_until(lambda: feed.connected, 10)
            assert feed.trouble is None
            broker.publish("a", "1")
            assert hear(feed, "a")


def test_restart_resubscribes_and_retells(mosquitto: Mosquitto) -> None:
    """After kill -9 and a restart the topics are heard again and `on_up` was called a second time."""
    with feed_on(mosquitto.house_broker(), "a") as feed:
        ups = []
        feed.on_up = lambda: ups.append(feed.publish("state", "now", retain=True))
        assert wait_until(lambda: feed.connected)
        mosquitto.kill()
        assert wait_until(lambda: not feed.connected, 3)
        assert feed.publish("a", "never") is False
        mosquitto.start()
        assert wait_until(lambda: feed.connected and True in ups, 10)
        mosquitto.publish("a", "after")
        assert [message.payload for message in hear(feed, "a")] == [b"after"]


def test_a_frozen_broker_is_noticed(mosquitto: Mosquitto) -> None:
    """A broker that stops answering counts as gone within two keepalives, and is found again when it thaws."""
    with feed_on(mosquitto.house_broker(), "a", keepalive_seconds=2) as feed:
        assert wait_until(lambda: feed.connected)
        began = time.monotonic()
        mosquitto.freeze()
        assert wait_until(lambda: not feed.connected, 8)
        assert time.monotonic() - began <= 2 * 2 + 1.5  # the loop looks once a second
        mosquitto.thaw()
        assert wait_until(lambda: feed.connected, 10)


def test_nothing_of_a_dead_connection_is_sent_later(mosquitto: Mosquitto) -> None:
    """What went into a hanging link and was cut with it never arrives, not even after the reconnect."""
    with (
        Proxy(mosquitto.port) as proxy,
        mosquitto.listening("a") as listener,
        feed_on(mosquitto.house_broker(port=proxy.port)) as feed,
    ):
        assert wait_until(lambda: feed.connected)
        proxy.hang()
        assert feed._link.publish("a", "stale", qos=1) is not None
        time.sleep(0.2)
        proxy.reset()
        proxy.resume()
        assert wait_until(lambda: not feed.connected, 3)
        assert wait_until(lambda: feed.connected, 10)
        feed.publish("a", "fresh")
        assert listener.wait("a", "fresh")
        assert listener.payloads("a") == ["fresh"]


def test_a_flapping_link_leaks_nothing(mosquitto: Mosquitto) -> None:
    """Ten cuts later it is connected, with one thread and no more open files than before."""
    with Proxy(mosquitto.port) as proxy, feed_on(mosquitto.house_broker(port=proxy.port), "a") as feed:
        feed._link._delays, feed._link.breaks = (0.05, 0.1), Breaks(0.0)
        assert wait_until(lambda: feed.connected)
        threads, files = links(), len(os.listdir("/proc/self/fd"))
        for _ in range(10):
            taken = proxy.taken
            proxy.reset()
            assert wait_until(lambda taken=taken: proxy.taken > taken and feed.connected, 5)
        mosquitto.publish("a", "still here")
        assert hear(feed, "a")
        assert links() == threads
        assert len(os.listdir("/proc/self/fd")) <= files + 4


def links() -> int:
    """Threads of links that run now."""
    return sum(thread.name.startswith("link ") for thread in threading.enumerate())


def test_a_slow_link_works(mosquitto: Mosquitto) -> None:
    """A network that holds each piece back for 0.3 s delays messages and loses none."""
    with Proxy(mosquitto.port) as proxy:
        proxy.delay_seconds = 0.3
        with feed_on(mosquitto.house_broker(port=proxy.port), "a") as feed:
            assert wait_until(lambda: feed.connected)
            time.sleep(1.0)
            mosquitto.publish("a", "1")
            assert hear(feed, "a")[0].payload == b"1"


def test_a_raising_wake_hurts_nobody(mosquitto: Mosquitto) -> None:
    """A fault in `wake` or `on_up` is logged; messages go on arriving."""
    with feed_on(mosquitto.house_broker(), "a") as feed:
        feed.wake = feed.on_up = lambda: 1 / 0  # type: ignore[assignment,return-value]
        assert wait_until(lambda: feed.connected)
        for number in ("1", "2"):
            mosquitto.publish("a", number)
            assert hear(feed, "a")[0].payload == number.encode()


def test_password(tmp_path: Path) -> None:
    """The right password from the file is let in; a wrong one is named, and mending the file mends it."""
    with Mosquitto(tmp_path, users={"house": "correct horse"}) as broker:
        wrong = broker.password_file("wrong", "other.password")
        with feed_on(broker.house_broker(password_file=str(wrong))) as feed:
            assert wait_until(lambda: feed.trouble is not None)
            assert 'the user "house" or its password' in (feed.trouble or "")
            time.sleep(2.5)
            assert broker.log.count("not authorised") <= 4, "a refused connection is tried again at leisure"
            wrong.write_text("correct horse\n")
            assert wait_until(lambda: feed.connected, 10)
            assert feed.trouble is None


def test_unreadable_password_file(tmp_path: Path) -> None:
    """A password file that is missing or empty is named."""
    table = {"port": free_port(), "user": "house"}
    for name in ("missing", "empty"):
        (tmp_path / "empty").write_text("")
        broker = Broker.model_validate(table | {"password_file": str(tmp_path / name)})
        with feed_on(broker) as feed:
            assert wait_until(lambda feed=feed: feed.trouble is not None)
            assert "password_file" in (feed.trouble or "")


def test_tls(tmp_path: Path) -> None:
    """With the authority's certificate the connection is let in, over TLS 1.2 or newer."""
    with Mosquitto(tmp_path, tls=True) as broker, feed_on(broker.house_broker(), "a") as feed:
        assert wait_until(lambda: feed.connected)
        broker.publish("a", "1")
        assert hear(feed, "a")


def test_tls_distrusts_a_stranger(tmp_path: Path) -> None:
    """A broker whose certificate another authority signed is refused by name."""
    with Mosquitto(tmp_path / "one", tls=True) as broker:
        other = Mosquitto(tmp_path / "two", tls=True)
        with feed_on(broker.house_broker(tls={"ca": str(other.ca)})) as feed:
            assert wait_until(lambda: feed.trouble is not None)
            assert "not trusted" in (feed.trouble or "")
            assert not feed.connected


def test_tls_wants_the_right_name(tmp_path: Path) -> None:
    """A certificate made for another name is refused."""
    with Mosquitto(tmp_path, tls=True, host="127.0.0.2") as broker, feed_on(broker.house_broker()) as feed:
        assert wait_until(lambda: feed.trouble is not None)
        assert "IP address mismatch" in (feed.trouble or "")
        assert not feed.connected


@pytest.mark.parametrize("first", [b"\x20\x02\x00\x01", b""])
def test_falls_back_to_3_1_1(first: bytes) -> None:
    """A broker that refuses MQTT 5, with the code of MQTT 3.1.1 table 3.1 or by hanging up, gets 3.1.1."""
    with OldBroker(first) as old, feed_on(Broker(port=old.port)) as feed:
        assert wait_until(lambda: feed.connected, 10)
        assert not feed._link.speaks_five
        assert old.levels[0] == 5
        assert old.levels[-1] == 4


def test_what_a_broker_spoke_is_tried_first_the_next_time() -> None:
    """One that is silent to MQTT 5 costs some seconds once, for all links; once it speaks 5 alone, 5 has its turn."""
    with OldBroker(None) as old:
        with feed_on(Broker(port=old.port)) as feed:
            assert wait_until(lambda: feed.connected, 16)
            assert old.levels == [5, 5, 4]
            old.drop()
            assert wait_until(lambda: len(old.levels) > 3 and feed.connected, 6)
        with feed_on(Broker(port=old.port)) as other:
            assert wait_until(lambda: other.connected, 2)
        assert old.levels == [5, 5, 4, 4, 4]
        old.accepts, old.refusal = 5, b"\x20\x02\x00\x01"
        with feed_on(Broker(port=old.port)) as third:
            assert wait_until(lambda: third.connected, 8)
            assert third._link.speaks_five
        assert old.levels[5:] == [4, 4, 5]


class OldBroker:
    """A listener that answers CONNECT of protocol level 5 with some bytes and hangs up, or is silent (None), and
    accepts level 4."""

    def __init__(self, refusal: bytes | None) -> None:
        self.levels: list[int] = []
        self.refusal, self.accepts = refusal, 4
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._kept: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def drop(self) -> None:
        """End every connection."""
        for end in self._kept:
            end.close()
        self._kept.clear()

    def __enter__(self) -> OldBroker:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(2)

    def _serve(self) -> None:
        while True:
            try:
                end, _ = self._listener.accept()
            except OSError:
                return
            packet = end.recv(4096)
            at = packet.index(b"\x00\x04MQTT") + 6
            self.levels.append(packet[at])
            let_in = packet[at] == self.accepts
            if let_in:
                end.sendall(b"\x20\x02\x00\x00" if packet[at] == 4 else b"\x20\x03\x00\x00\x00")
            elif self.refusal is not None:
                end.sendall(self.refusal)
            if let_in or self.refusal is None:
                self._kept.append(end)
            else:
                end.close()
