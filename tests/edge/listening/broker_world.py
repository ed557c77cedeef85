"""An invented home on a real broker: sensors and plugs of several makes-up, and one device of the Homie convention."""

from __future__ import annotations

import json
import threading

import paho.mqtt.client as paho


class Publisher:
    """A client of the broker that says what a test wants, and may answer orders."""

    def __init__(self, port: int, will: tuple[str, str] | None = None, five: bool = True) -> None:
        version = paho.MQTTv5 if five else paho.MQTTv311
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=version)
        self.heard: list[tuple[str, str]] = []
        self.answer = lambda topic, payload: None
        self.client.on_message = self._take
        if will is not None:
            self.client.will_set(will[0], will[1], qos=1, retain=True)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _take(self, client: paho.Client, data: object, message: paho.MQTTMessage) -> None:
        text = message.payload.decode()
        self.heard.append((message.topic, text))
        self.answer(message.topic, text)

    def say(self, topic: str, payload: object, retain: bool = False) -> None:
        text = payload if isinstance(payload, (str, bytes)) else json.dumps(payload)
        self.client.publish(topic, text, qos=1, retain=retain).wait_for_publish(5)

    def tell(self, topic: str, payload: object, retain: bool = False) -> None:
        """The same from within an answer, where nobody may wait."""
        text = payload if isinstance(payload, str) else json.dumps(payload)
        self.client.publish(topic, text, qos=1, retain=retain)

    def hear(self, topic: str) -> None:
        self.client.subscribe(topic, qos=1)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


class HomieDevice(Publisher):
    """A plug with a meter, as version 5 of the convention has it: id `plug-3`, a switch, watts, and an off-after."""

    def __init__(self, port: int, device: str = "plug-3", domain: str = "homie", timer: bool = True) -> None:
        self.base = f"{domain}/5/{device}"
        super().__init__(port, (f"{self.base}/$state", "lost"))
        self.on, self.off_after, self.watts = False, 0, 612.0
        self.orders = 0
        self._timer: threading.Timer | None = None
        relay = {"on": {"name": "Contact", "datatype": "boolean", "settable": True}}
        if timer:
            relay["off-after"] = {"name": "Off after", "datatype": "integer", "unit": "s", "settable": True}
        described = {
            "homie": "5.0",
            "version": 7,
            "name": "Sewing plug",
            "nodes": {
                "relay": {"name": "Relay", "properties": relay},
                "meter": {
                    "properties": {
                        "power": {"datatype": "float", "unit": "W"},
                        "voltage": {"datatype": "float", "unit": "V"},
                    }
                },
            },
        }
        self.say(f"{self.base}/$state", "init", True)
        self.say(f"{self.base}/$description", described, True)
        self.say(f"{self.base}/relay/on", "false", True)
        self.say(f"{self.base}/meter/power", "0.4", True)
        self.answer = self._obey
        self.hear(f"{self.base}/relay/+/set")
        self.say(f"{self.base}/$state", "ready", True)

    def _obey(self, topic: str, payload: str) -> None:
        if topic.endswith("/off-after/set"):
            self.off_after = int(payload)
        elif payload in ("true", "false"):
            self.switch(payload == "true")
            self.orders += 1

    def switch(self, on: bool) -> None:
        """The contact moves; a value is published when it changes, as the convention has it."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if on and self.off_after:
            self._timer = threading.Timer(self.off_after, self.switch, (False,))
            self._timer.daemon = True
            self._timer.start()
        if on != self.on:
            self.on = on
            self.tell(f"{self.base}/relay/on", "true" if on else "false", True)
            self.tell(f"{self.base}/meter/power", f"{self.watts if on else 0.4}", True)
            self.tell(f"{self.base}/meter/voltage", "231.0", True)

    def die(self) -> None:
        """Without a word: the broker tells the last will."""
        if self._timer is not None:
            self._timer.cancel()
        self.client._sock_close()
        self.client.loop_stop()

    def close(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        super().close()
