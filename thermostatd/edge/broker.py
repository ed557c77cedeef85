"""The daemon's own connection to the broker: what it hears, and what it tells.

Rules: it starts with the broker down and comes back by itself; what is heard waits in a bounded inbox;
nothing is queued while disconnected: after a reconnect `on_up` is called to tell what holds then;
`thermostatd/alive` is `true` while connected, and the broker makes it `false` when we die.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from hashlib import sha256

from thermostatd.core.house import Broker
from thermostatd.edge.broker_client import Will
from thermostatd.edge.broker_inbox import Heard, Inbox, heard
from thermostatd.edge.broker_link import KEEPALIVE_SECONDS, Link

__all__ = ["ALIVE_TOPIC", "Feed", "Heard", "Inbox", "Link", "Will", "client_id_of", "heard"]

log = logging.getLogger(__name__)
ALIVE_TOPIC = "thermostatd/alive"
ALIVE_WILL = Will(ALIVE_TOPIC, "false", retain=True)


def client_id_of(*words: str) -> str:
    """An MQTT client id for these words: always the same, 23 letters and digits (MQTT 3.1.1, 3.1.3.1).

    The same id after a restart makes the broker end a half-dead former connection, and publish its will.
    """
    return "td" + sha256("\0".join(words).encode()).hexdigest()[:21]


class Feed:
    """One connection for every sensor topic, for requests and for what the daemon publishes.

    `now` gives steady seconds. `wake` is called after each message, `on_up` after each (re)connection;
    both run on the network's thread.
    """

    def __init__(
        self,
        broker: Broker,
        client_id: str,
        now: Callable[[], float],
        will: Will | None = ALIVE_WILL,
        *,
        keepalive_seconds: int = KEEPALIVE_SECONDS,
    ) -> None:
        self._now, self._will = now, will
        self.inbox = Inbox()
        self.wake: Callable[[], None] | None = None
        self.on_up: Callable[[], None] | None = None
        self._link = Link(
            broker,
            client_id,
            will=will,
            on_message=self._keep,
            on_up=self._came_up,
            keepalive_seconds=keepalive_seconds,
        )

    @property
    def connected(self) -> bool:
        """Whether the connection stands, as far as is known."""
        return self._link.connected

    @property
    def away_seconds(self) -> float:
        """For how long there has been no connection, s of the network."""
        return self._link.away_seconds

    @property
    def trouble(self) -> str | None:
        """Why there is no connection, as a sentence; None while all is well."""
        return self._link.trouble

    @property
    def breaks(self) -> str | None:
        """The trouble's code, where the connection breaks again and again."""
        return self._link.breaks.code

    @property
    def topics(self) -> tuple[str, ...]:
        """Every topic that is heard."""
        return self._link.topics

    def want(self, topic: str, *, again: bool = False) -> None:
        """Hear a topic from now on; `again`: also what the broker keeps of it, anew."""
        self._link.subscribe(topic, again=again)

    def drop(self, topic: str) -> None:
        """Hear a topic no more."""
        self._link.unsubscribe(topic)

    def start(self) -> None:
        """Begin connecting; returns at once."""
        self._link.start()

    def publish(self, topic: str, payload: str | bytes, retain: bool = False) -> bool:
        """Tell a topic; False where there is no connection: then the message is dropped."""
        return self._link.publish(topic, payload, retain=retain) is not None

    def drain(self) -> list[Heard]:
        """All that was heard since the last call, oldest first, the latest of each topic."""
        return self.inbox.drain()

    def stop(self) -> None:
        """Tell the will ourselves, wait up to 2 s for it to leave, and disconnect."""
        last = (
            self._link.publish(self._will.topic, self._will.payload, retain=self._will.retain, qos=1)
            if self._will
            else None
        )
        self._link.stop(last)

    def _came_up(self) -> None:
        if self._will == ALIVE_WILL:
            self._link.publish(ALIVE_TOPIC, "true", retain=True, qos=1)
        _quietly(self.on_up, "telling the broker what holds")

    def _keep(self, topic: str, payload: bytes, retained: bool) -> None:
        self.inbox.put(heard(topic, payload, retained, self._now()))
        _quietly(self.wake, "waking the tick")


def _quietly(call: Callable[[], None] | None, doing: str) -> None:
    try:
        if call is not None:
            call()
    except Exception:
        log.exception("A fault while %s", doing)
