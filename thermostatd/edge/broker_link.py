"""A connection to the broker that keeps coming back.

Rules: one thread for each link, and a fresh client for each connection, so nothing that was meant for
an earlier one is ever sent late; publishing while disconnected drops the message; each connection speaks the
version of MQTT that the broker is found to speak (broker_version.py); a failure is a sentence in `trouble` and
another try after 1 to 30 s, or after minutes where connections break again and again (broker_breaks.py).
Waiting here goes by the network's time, never by the house's clock, which may run faster in a rehearsal.
"""

from __future__ import annotations

import logging
import socket
import struct
import threading
import time
from collections.abc import Callable
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.reasoncodes import ReasonCode

from thermostatd.core.house import Broker
from thermostatd.edge.broker_breaks import TAKEN_OVER, Breaks
from thermostatd.edge.broker_client import (
    Will,
    client_for,
    connect,
    expiring,
    sentence_of_fault,
    sentence_of_refusal,
)
from thermostatd.edge.broker_said import said_lately
from thermostatd.edge.broker_version import Version

log = logging.getLogger(__name__)
# A link that is lost one way ends in the broker's last word after 2.5 of these: the last ping that arrived, and half as
# long again (MQTT 5, 3.1.2.10); some brokers look only every 5 s.
KEEPALIVE_SECONDS = 10
DELAYS_SECONDS = (1.0, 30.0)
OnMessage = Callable[[str, bytes, bool], None]


class Link:
    """`on_message(topic, payload, retained)` and `on_up()` run on the link's thread, and must be quick.

    `on_beat()` runs there too, at least once a second while there is a connection. `five` says which version is tried
    first where that is not known: a broker without MQTT 5 may say nothing to it for some seconds, twice, before 3.1.1
    has its turn.
    """

    def __init__(
        self,
        broker: Broker,
        client_id: str,
        *,
        on_message: OnMessage,
        on_up: Callable[[], None],
        on_beat: Callable[[], None] | None = None,
        will: Will | None = None,
        keepalive_seconds: int = KEEPALIVE_SECONDS,
        delays_seconds: tuple[float, float] = DELAYS_SECONDS,
        breaks: Breaks | None = None,
        five: bool = True,
    ) -> None:
        self._broker, self._client_id, self._will = broker, client_id, will
        self._on_message, self._on_up, self._on_beat = on_message, on_up, on_beat
        self._keepalive_seconds, self._delays = keepalive_seconds, delays_seconds
        self.breaks = breaks or Breaks()
        self._topics: dict[str, None] = {}
        self._client: paho.Client | None = None
        self._thread: threading.Thread | None = None
        self._stopping, self._abandon = threading.Event(), threading.Event()
        self._version = Version(broker, five)
        self._up = self._greeted = False
        self._away_since: float | None = None
        self.trouble: str | None = None
        """Why there is no connection, as a sentence; None while all is well."""

    @property
    def connected(self) -> bool:
        """Whether the broker has let us in and the connection stands, as far as is known."""
        return self._up

    @property
    def away_seconds(self) -> float:
        """For how long there has been no connection, s of the network; 0 while it stands, or was never begun."""
        since = self._away_since
        return 0.0 if self._up or since is None else time.monotonic() - since

    @property
    def speaks_five(self) -> bool:
        """Whether this connection is MQTT 5 (messages can expire)."""
        return self._version.five

    def start(self) -> None:
        """Begin connecting; returns at once and never raises because of the broker."""
        if self._thread is None:
            self._away_since = time.monotonic()
            self._thread = threading.Thread(target=self._run, name=f"link {self._client_id}", daemon=True)
            self._thread.start()

    @property
    def topics(self) -> tuple[str, ...]:
        """Every topic that is heard."""
        return tuple(self._topics)

    def unsubscribe(self, topic: str) -> None:
        """Hear a topic no more."""
        client = self._client
        if self._topics.pop(topic, self) is None and client is not None and self._greeted:
            client.unsubscribe(topic)

    def subscribe(self, topic: str, *, again: bool = False) -> None:
        """Hear a topic from now on, on this and every later connection; `again`: and what is retained, anew."""
        if topic in self._topics and not again:
            return
        self._topics[topic] = None
        client = self._client
        if client is not None and self._greeted:
            client.subscribe(topic, qos=1)

    def publish(
        self,
        topic: str,
        payload: str | bytes,
        *,
        retain: bool = False,
        qos: int = 0,
        expires_after: int | None = None,
    ) -> paho.MQTTMessageInfo | None:
        """Hand a message to the connection; None where there is none: then it is dropped, never kept.

        `expires_after` are whole seconds after which an MQTT 5 broker throws it away; 3.1.1 ignores it.
        """
        client = self._client
        if client is None or not self._up:
            return None
        properties = expiring(expires_after) if expires_after is not None and self.speaks_five else None
        return client.publish(topic, payload, qos=qos, retain=retain, properties=properties)

    def wait_until_up(self, seconds: float) -> bool:
        """Whether there is a connection, after so many seconds at most; a link that is not started has none."""
        end = time.monotonic() + seconds
        while not self._up and self._thread is not None and time.monotonic() < end:
            time.sleep(0.02)
        return self._up

    def stop(self, last: paho.MQTTMessageInfo | None = None, wait_seconds: float = 2.0) -> None:
        """Wait for the last message to leave (2 s at most), say goodbye and end the thread."""
        if last is not None and self._up:
            _wait_for(last, wait_seconds)
        self._stopping.set()
        client = self._client
        if client is not None and self._up:
            client.disconnect()
        if self._thread is not None:
            self._thread.join(wait_seconds)
            self._abandon.set()
            self._thread.join(wait_seconds)
            self._thread = None

    def _run(self) -> None:
        delay = self._delays[0] / 2
        self._version.begin()
        while not self._stopping.is_set():
            self._one_connection()
            if self._version.choose(self._greeted):
                continue
            delay = self._delays[0] if self._greeted else min(delay * 2, self._delays[1])
            self._stopping.wait(max(delay, self.breaks.wait_seconds))

    def _one_connection(self) -> None:
        """From connecting to the end of the connection. Never raises: a dead thread would tell nobody."""
        self._greeted = False
        self._version.connecting()
        try:
            five = self.speaks_five
            client = self._client = client_for(self._broker, self._client_id, self._will, five=five)
            self._wire(client)
            connect(client, self._broker, self._keepalive_seconds, five=five)
            self._version.took_connection()
            while client.loop(1.0) == MQTTErrorCode.MQTT_ERR_SUCCESS and not self._abandon.is_set():
                if self._version.is_silent:
                    self._said_nothing("no answer")
                    break
                if self._up and not self._greeted:
                    self._greet(client)
                if self._on_beat is not None:
                    self._on_beat()
        except Exception as fault:
            self._say(sentence_of_fault(fault, self._broker))
        finally:
            self._went_down()
            self._client = None

    def _wire(self, client: paho.Client) -> None:
        client.on_connect, client.on_disconnect = self._connected, self._disconnected
        client.on_message, client.on_subscribe = self._heard, self._subscribed
        # With this set, publishing from another thread only enqueues; the link's thread does the writing.
        client.on_socket_register_write = _ignore
        client.on_socket_close = self._hang_up

    def _hang_up(self, client: Any, data: Any, line: Any) -> None:
        """A link that is given up ends by a reset. A goodbye would wait behind what was never acknowledged, and the
        broker, who may still hear us, would keep our last word back for a keepalive and a half more."""
        if not self._stopping.is_set():
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def _greet(self, client: paho.Client) -> None:
        topics = list(self._topics)
        self._greeted = True
        if topics:
            client.subscribe([(topic, 1) for topic in topics])
        self._on_up()

    def _connected(self, client: Any, data: Any, flags: Any, reason: ReasonCode, properties: Any) -> None:
        self._version.said_something()
        if not reason.is_failure:
            self._up, self.trouble = True, None
            self._version.let_in()
        elif "protocol version" in str(reason).lower():
            self._version.refused()
        else:
            self._say(sentence_of_refusal(reason, self._broker))

    def _disconnected(self, client: Any, data: Any, flags: Any, reason: ReasonCode, properties: Any) -> None:
        was_up = self._went_down()
        if self._stopping.is_set():
            return
        if was_up:
            self.breaks.lost(taken=reason.value == TAKEN_OVER)
            self._say(f"The connection to the broker at {self._place} was lost ({str(reason).lower()}).")
        elif not self._version.answered:
            self._said_nothing(str(reason).lower())

    def _went_down(self) -> bool:
        """Whether it stood until now."""
        was_up = self._up
        if was_up:
            self._away_since = time.monotonic()
        self._up = False
        return was_up

    def _said_nothing(self, why: str) -> None:
        self._version.said_nothing()
        self._say(f"The broker at {self._place} took the connection and said nothing ({why}).")

    def _subscribed(
        self, client: Any, data: Any, mid: int, reasons: list[ReasonCode], properties: Any
    ) -> None:
        if any(reason.is_failure for reason in reasons):
            self._say(f"The broker at {self._place} does not let us hear every topic: check its access list.")

    def _heard(self, client: Any, data: Any, message: paho.MQTTMessage) -> None:
        self._on_message(message.topic, bytes(message.payload), bool(message.retain))

    @property
    def _place(self) -> str:
        return f"{self._broker.host}:{self._broker.port}"

    def _say(self, sentence: str) -> None:
        if sentence != self.trouble and not said_lately(sentence):
            log.warning("%s", sentence)
        self.trouble = sentence


def _ignore(*_: Any) -> None:
    """Stands where only the presence of a handler counts."""


def _wait_for(info: paho.MQTTMessageInfo, seconds: float) -> None:
    try:
        info.wait_for_publish(seconds)
    except (ValueError, RuntimeError) as fault:
        log.warning("The last message did not leave: %s", fault)
