"""Puts a simulated house on a real broker, speaking exactly as the house file says its devices speak.

Rules: callbacks only hand messages over; one thread lets the house live and publishes; nothing is
published while disconnected, and on reconnect every device tells its present state; of what comes
faster than the wire may carry, the latest of each topic counts.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from thermostatd.rehearsal.devices import Devices, Message
from thermostatd.rehearsal.house import SimulatedHouse

BEAT_SECONDS = 0.2
LONGEST_BEAT_SECONDS = 1.0  # a machine that cannot keep the pace falls behind rather than ever farther
SLICE_SECONDS = 1800.0
MESSAGES_PER_SECOND = 200.0
INBOX = 2000


class MqttHouse:
    """A simulated house on the broker at host and port, `speed` times as fast as life.

    `start` returns at once, whether or not the broker is there. `fault`, `mend` and `press` act on the house.
    """

    def __init__(
        self,
        simulated: SimulatedHouse,
        host: str,
        port: int,
        speed: float = 1.0,
        user: str | None = None,
        password: str | None = None,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        if not 0 < speed < 1e6:
            raise ValueError("speed is a factor over zero, such as 60")
        self.simulated, self.speed = simulated, speed
        self._host, self._port, self._now = host, port, now
        self._devices = Devices(simulated)
        self._inbox: queue.Queue[tuple[str, str]] = queue.Queue(INBOX)
        self._pending: dict[str, Message] = {}
        self._lock = threading.Lock()
        self._over, self._fresh = threading.Event(), threading.Event()
        self._allowance = 0.0
        self.published = 0
        self._thread = threading.Thread(target=self._live, name="rehearsal", daemon=True)
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
        self._client.suppress_exceptions = True
        self._client.reconnect_delay_set(1, 5)
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_connect = self._on_connect
        self._client.on_message = self._on_message

    def start(self) -> None:
        """Begins to live and to connect; returns at once."""
        self._client.connect_async(self._host, self._port, keepalive=20)
        self._client.loop_start()
        self._thread.start()

    def stop(self) -> None:
        """Ends the thread and the connection."""
        self._over.set()
        if self._thread.is_alive():
            self._thread.join(5)
        self._client.disconnect()
        self._client.loop_stop()

    def fault(self, key: str, kind: str, **how: float | str) -> None:
        """Orders a fault in the house."""
        with self._lock:
            self.simulated.fault(key, kind, **how)

    def mend(self, key: str) -> None:
        """Puts a heater or a room right."""
        with self._lock:
            self.simulated.mend(key)

    def press(self, key: str) -> None:
        """Someone presses a plug's own button."""
        with self._lock:
            self.simulated.press(key)

    def _on_connect(
        self, client: mqtt.Client, _: object, __: mqtt.ConnectFlags, reason: ReasonCode, ___: object
    ) -> None:
        if not reason.is_failure:
            for topic in self._devices.listens:
                client.subscribe(topic, qos=1)
            self._fresh.set()

    def _on_message(self, _: mqtt.Client, __: object, message: mqtt.MQTTMessage) -> None:
        try:
            self._inbox.put_nowait((message.topic, message.payload.decode("utf-8", "replace")))
        except queue.Full:
            return

    def _live(self) -> None:
        last = self._now()
        while not self._over.wait(BEAT_SECONDS):
            now = self._now()
            with self._lock:
                self._hear()
                self._advance(min(max(now - last, 0.0), LONGEST_BEAT_SECONDS) * self.speed)
                if self._fresh.is_set():
                    self._fresh.clear()
                    self._devices.repeat()
                for message in self._devices.news():
                    self._pending[message.topic] = message
            self._send(now - last)
            last = now

    def _advance(self, seconds: float) -> None:
        """In slices, so that an end asked for is not kept waiting."""
        while seconds > 0 and not self._over.is_set():
            part = min(seconds, SLICE_SECONDS)
            self.simulated.advance(part)
            seconds -= part

    def _hear(self) -> None:
        while True:
            try:
                topic, payload = self._inbox.get_nowait()
            except queue.Empty:
                return
            self._devices.hear(topic, payload)

    def _send(self, elapsed_seconds: float) -> None:
        allowed = self._allowance + elapsed_seconds * MESSAGES_PER_SECOND
        self._allowance = min(allowed, MESSAGES_PER_SECOND * BEAT_SECONDS * 2)
        while self._pending and self._allowance >= 1 and self._client.is_connected():
            message = self._pending.pop(next(iter(self._pending)))
            self._client.publish(message.topic, message.payload, qos=0, retain=message.retain)
            self._allowance -= 1
            self.published += 1
