"""A stranger's smart plug on a real broker, made with paho: contact, timer, meter, persistent session.

Rules: it obeys `<on>`, `<off>` and `<on> <seconds>` on its `tell` topic, switches itself off when its
timer ends, and tells its state as JSON after each order. Its topics and numbers are invented.
"""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass

import paho.mqtt.client as paho
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from thermostatd.core.house import MqttPlug


@dataclass(frozen=True)
class HeardOrder:
    """An order as it arrived; `expiry` is what the broker left of the message's life, in seconds."""

    payload: str
    qos: int
    retained: bool
    expiry: int | None


class StrangersPlug:
    """One plug. `session_seconds` keeps its session (and its queue) in the broker while it is away."""

    def __init__(
        self,
        port: int,
        name: str = "plug/7",
        *,
        watts: float = 541.0,
        session_seconds: int = 0,
        five: bool = True,
    ) -> None:
        self.port, self.name, self.watts, self.session_seconds = port, name, watts, session_seconds
        self.five = five
        self.orders: list[HeardOrder] = []
        self.on = False
        self.deaf = False
        """Whether it ignores orders."""
        self._timer: threading.Timer | None = None
        self._ready = threading.Event()
        self._client = self._fresh_client()

    @staticmethod
    def described(name: str = "plug/7", **changes: object) -> MqttPlug:
        """How a house file describes it."""
        table: dict[str, object] = {
            "kind": "mqtt",
            "tell": f"{name}/set",
            "shows": {"topic": name, "pointer": "/on"},
            "draws": {"topic": name, "pointer": "/watts"},
            "volts": {"topic": name, "pointer": "/volts"},
            "warm": {"topic": name, "pointer": "/warm"},
            "present": {"topic": f"{name}/present"},
            "ask_state": {"topic": f"{name}/ask"},
            "timer": {"payload": "true {seconds}"},
        }
        return MqttPlug.model_validate(table | changes)

    def online(self) -> StrangersPlug:
        """Connect and wait until subscribed."""
        self._ready.clear()
        if self.five:
            properties = Properties(PacketTypes.CONNECT)
            properties.SessionExpiryInterval = self.session_seconds
            fresh = not self.session_seconds
            self._client.connect("127.0.0.1", self.port, 20, clean_start=fresh, properties=properties)
        else:
            self._client.connect("127.0.0.1", self.port, 20)
        self._client.loop_start()
        if not self._ready.wait(5):
            raise RuntimeError("the stranger's plug was not let in")
        return self

    def offline(self) -> None:
        """Lose the connection without a word to the daemon; a session is kept if there is one."""
        self._client.disconnect()
        self._client.loop_stop()

    def acknowledge(self) -> None:
        """Wait until the broker has this plug's word for all it has heard: what it has not, it sends again later."""
        self._client.publish(f"{self.name}/heard", qos=1).wait_for_publish(5)

    def close(self) -> None:
        """End it."""
        if self._timer:
            self._timer.cancel()
        self.offline()

    def press(self, on: bool) -> None:
        """Its own button."""
        self._switch(on, None)

    def tell_state(self, retain: bool = False) -> None:
        """Publish contact and meter."""
        state = {"on": self.on, "watts": self.watts if self.on else 0.4, "volts": 231.0, "warm": 31.5}
        self._client.publish(self.name, json.dumps(state), retain=retain)

    def __enter__(self) -> StrangersPlug:
        return self.online()

    def __exit__(self, *_: object) -> None:
        self.close()

    def _fresh_client(self) -> paho.Client:
        client = paho.Client(
            paho.CallbackAPIVersion.VERSION2,
            "stranger " + self.name,
            protocol=paho.MQTTv5 if self.five else paho.MQTTv311,
        )
        client.on_connect = lambda c, *_: c.subscribe([(f"{self.name}/set", 1), (f"{self.name}/ask", 0)])
        client.on_subscribe = lambda *_: self._ready.set()
        client.on_message = lambda _c, _d, message: self._hear(message)
        return client

    def _hear(self, message: paho.MQTTMessage) -> None:
        if message.topic.endswith("/ask"):
            self.tell_state()
            return
        text = message.payload.decode()
        expiry = getattr(message.properties, "MessageExpiryInterval", None)
        self.orders.append(HeardOrder(text, message.qos, bool(message.retain), expiry))
        if self.deaf:
            return
        word, _, seconds = text.partition(" ")
        self._switch(word == "true", float(seconds) if seconds else None)

    def _switch(self, on: bool, seconds: float | None) -> None:
        if self._timer:
            self._timer.cancel()
            self._timer = None
        self.on = on
        if on and seconds is not None:
            self._timer = threading.Timer(seconds, self._switch, (False, None))
            self._timer.daemon = True
            self._timer.start()
        self.tell_state()
