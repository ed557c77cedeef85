"""A plug of the open Homie convention: an MQTT plug whose topics follow from its ids.

Rules: its contact counts as kept by the broker while the device (and its root) says `ready`, since its last will
says `lost` otherwise; a kept meter value is no evidence; where it has a timer, the seconds are told before each ON.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from thermostatd.core.house import HomiePlug as Description
from thermostatd.core.house import House
from thermostatd.core.house import MqttPlug as Topics
from thermostatd.edge.broker import Heard
from thermostatd.edge.plugs.hearing import Hearing
from thermostatd.edge.plugs.mqtt import MqttPlug

READY = "ready"


class HomieHearing(Hearing):
    """What such a plug says, and whether its device is there."""

    def __init__(self, key: str, plug: Description, topics: Topics) -> None:
        super().__init__(key, topics)
        self._contact_topic = topics.shows.topic if topics.shows else ""
        devices = [plug.device] + ([plug.root] if plug.root else [])
        self._states: dict[str, str | None] = {plug.topic("$state", device): None for device in devices}
        self._kept: Heard | None = None

    def topics(self) -> tuple[str, ...]:
        """Every topic, the devices' states first."""
        return (*self._states, *super().topics())

    def take(self, heard: Heard) -> None:
        """One message."""
        if heard.topic in self._states:
            self._take_state(heard)
        elif heard.topic == self._contact_topic and heard.retained:
            self._kept = heard
            self._believe_kept()
        else:
            super().take(heard)

    def _take_state(self, heard: Heard) -> None:
        self._states[heard.topic] = heard.payload.decode("utf-8", "replace").strip()
        there = all(state in (READY, None) for state in self._states.values())
        back = {} if self._report.reachable or not there else {"back_at": heard.at}
        self._put("present", reachable=there, **back)
        if not there:
            self._kept = None  # what it said before is no answer after it came back
        self._believe_kept()

    def _believe_kept(self) -> None:
        if self._kept is not None and all(state == READY for state in self._states.values()):
            heard, self._kept = self._kept, None
            super().take(replace(heard, retained=False))


class HomiePlug(MqttPlug):
    """The plug of the heater `key`."""

    def __init__(
        self, key: str, plug: Description, house: House, now: Callable[[], float], **more: Any
    ) -> None:
        topics = topics_of(plug)
        super().__init__(key, topics, house, now, hearing=HomieHearing(key, plug, topics), **more)


def topics_of(plug: Description) -> Topics:
    """The same plug by its topics."""
    table: dict[str, Any] = {
        "tell": f"{plug.topic(plug.switch)}/set",
        "on": "true",
        "off": "false",
        "shows": {"topic": plug.topic(plug.switch)},
    }
    if plug.timer:
        table["timer"] = {"topic": f"{plug.topic(plug.timer)}/set", "payload": "{seconds}", "then_on": True}
    if plug.power:
        table["draws"] = {"topic": plug.topic(plug.power), "scale": plug.power_scale}
    if plug.volts:
        table["volts"] = {"topic": plug.topic(plug.volts)}
    if plug.warm:
        table["warm"] = {"topic": plug.topic(plug.warm)}
    return Topics.model_validate(table)
