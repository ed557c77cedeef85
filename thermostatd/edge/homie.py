"""Devices that introduce themselves by the open Homie convention (5, and 4 in its older layout). Pure.

Rules: a device that is not plainly described is left out, with a sentence; a child is there only while its
root is too (the root's last will says `lost` for all); a value is a property, its command the same with `/set`.
Source: the convention's own text, version 5; version 4 from memory.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

_ID = re.compile(r"^[a-z0-9-]{1,100}$")
MOST_DEVICES, MOST_PROPERTIES = 200, 400
DEGREES = {"°C": "C", "°F": "F"}
POWER_SCALES = {"W": 1.0, "kW": 1000.0}


@dataclass(frozen=True, slots=True)
class Property:
    """One property of a device. `topic` carries its value; `topic + "/set"` takes commands where `settable`."""

    node: str
    id: str
    name: str
    datatype: str
    unit: str
    settable: bool
    topic: str

    @property
    def path(self) -> str:
        """`node/property`, as a house file names it."""
        return f"{self.node}/{self.id}"

    @property
    def degrees(self) -> str | None:
        """C or F where this is a temperature: a number with a degree's unit that nobody sets."""
        numeric = self.datatype in ("float", "integer") and not self.settable
        return DEGREES.get(self.unit) if numeric else None

    @property
    def is_switch(self) -> bool:
        """A boolean that may be set."""
        return self.datatype == "boolean" and self.settable

    @property
    def power_scale(self) -> float | None:
        """What makes watts of it, where this is a power."""
        return (
            None
            if self.settable or self.datatype not in ("float", "integer")
            else POWER_SCALES.get(self.unit)
        )


@dataclass(frozen=True, slots=True)
class Device:
    """One device as it describes itself. `state_topics` are its own `$state` and its root's."""

    domain: str
    version: int
    id: str
    name: str
    properties: tuple[Property, ...]
    state: str
    state_topics: tuple[str, ...]

    @property
    def here(self) -> bool:
        """Whether it says that it works (asleep counts: it wakes by itself)."""
        return self.state in ("ready", "sleeping")


def root_topic(domain: str, version: int, device: str) -> str:
    """The topic under which all of a device's topics are."""
    return f"{domain}/5/{device}" if version >= 5 else f"{domain}/{device}"


def devices_in(whole: Mapping[str, str]) -> tuple[list[Device], list[str]]:
    """The devices that payloads by topic (`…/$state`, `…/$description`, …) describe, and what could not be read."""
    found: list[Device] = []
    odd: list[str] = []
    for topic in sorted(whole):
        parts = topic.split("/")
        if parts[-1] != "$state" or not whole[topic] or len(found) >= MOST_DEVICES:
            continue
        try:
            if len(parts) == 4 and parts[1] == "5" and _ID.match(parts[2]):
                found.append(_five(whole, parts[0], parts[2]))
            elif len(parts) == 3 and _ID.match(parts[1]):
                found.append(_four(whole, parts[0], parts[1]))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
            odd.append(
                f"the device at {'/'.join(parts[:-1])} does not describe itself plainly ({fault!s:.80})"
            )
    return found, odd


def _five(whole: Mapping[str, str], domain: str, device: str) -> Device:
    base = f"{domain}/5/{device}"
    told = json.loads(whole[f"{base}/$description"])
    if not str(told["homie"]).startswith("5"):
        raise ValueError("its description is of another version")
    properties = [
        Property(
            node,
            key,
            _text(one.get("name"), key),
            str(one["datatype"]),
            str(one.get("unit", "")),
            one.get("settable", False) is True,
            f"{base}/{node}/{key}",
        )
        for node, said in dict(told.get("nodes") or {}).items()
        for key, one in dict(said.get("properties") or {}).items()
        if _ID.match(node) and _ID.match(key)
    ][:MOST_PROPERTIES]
    topics = [f"{base}/$state"]
    root = told.get("root")
    if isinstance(root, str) and _ID.match(root) and root != device:
        topics.append(f"{domain}/5/{root}/$state")
    states = [whole.get(topic, "lost") for topic in topics]
    state = next((one for one in states if one not in ("ready", "sleeping")), states[0])
    return Device(domain, 5, device, _text(told.get("name"), device), tuple(properties), state, tuple(topics))


def _four(whole: Mapping[str, str], domain: str, device: str) -> Device:
    base = f"{domain}/{device}"
    if not whole[f"{base}/$homie"].startswith("4"):
        raise ValueError("its layout is of another version")
    properties: list[Property] = []
    for node in whole[f"{base}/$nodes"].split(","):
        for key in whole.get(f"{base}/{node}/$properties", "").split(","):
            said = f"{base}/{node}/{key}"
            if _ID.match(node) and _ID.match(key) and len(properties) < MOST_PROPERTIES:
                settable = whole.get(f"{said}/$settable", "false") == "true"
                name = whole.get(f"{said}/$name") or key
                datatype, unit = whole.get(f"{said}/$datatype", "string"), whole.get(f"{said}/$unit", "")
                properties.append(Property(node, key, name, datatype, unit, settable, said))
    name = whole.get(f"{base}/$name") or device
    topics = (f"{base}/$state",)
    return Device(domain, 4, device, name, tuple(properties), whole[topics[0]], topics)


def _text(name: object, otherwise: str) -> str:
    return name[:100] if isinstance(name, str) and name.strip() else otherwise
