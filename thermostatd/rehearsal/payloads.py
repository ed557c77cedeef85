"""The documents that simulated devices publish, made as the house file says they are read.

Rules: a pointer (RFC 6901) places a value in its topic's document, an empty one makes the whole payload;
several values on one topic become one document; the words for on and off keep the file's own spelling.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from thermostatd.core.house import MqttPlug, Sensor

Placed = tuple[str, object]


def document(values: Iterable[Placed]) -> str:
    """The payload of one topic, from (pointer, value) pairs. A lone empty pointer gives plain text."""
    tree: dict[str, object] = {}
    for pointer, value in values:
        if pointer == "":
            return value if isinstance(value, str) else json.dumps(value)
        _place(tree, [part.replace("~1", "/").replace("~0", "~") for part in pointer[1:].split("/")], value)
    return json.dumps(_with_lists(tree))


def _place(tree: dict[str, object], path: list[str], value: object) -> None:
    for part in path[:-1]:
        branch = tree.setdefault(part, {})
        if not isinstance(branch, dict):
            raise ValueError(f'two pointers disagree at "{part}": one ends where the other goes on')
        tree = branch
    tree[path[-1]] = value


def _with_lists(tree: object) -> object:
    if not isinstance(tree, dict):
        return tree
    made = {key: _with_lists(value) for key, value in tree.items()}
    if made and all(re.fullmatch(r"0|[1-9]\d{0,2}", key) for key in made):
        return [made.get(str(index)) for index in range(1 + max(int(key) for key in made))]
    return made


def word(payload: str, pointer: str) -> object:
    """A word of the file as it stands in a document: `true` and numbers as themselves, the rest as text."""
    if pointer == "":
        return payload
    try:
        value: object = json.loads(payload)
    except ValueError:
        return payload
    return value


def raw_celsius(sensor: Sensor, celsius: float) -> float:
    """What the sensor must publish so that the file's unit, scale and offset make `celsius` of it."""
    bare = celsius - sensor.offset
    return round((bare * 1.8 + 32.0 if sensor.unit == "F" else bare) / sensor.scale, 4)


def order_in(plug: MqttPlug, topic: str, payload: str) -> tuple[bool, float] | None:
    """What a message means to a plug: (on, seconds until it ends itself), or None: not for it."""
    timer = plug.timer
    if timer is not None and topic == (timer.topic or plug.tell):
        before, after = timer.payload.split("{seconds}", 1)
        match = re.fullmatch(re.escape(before) + r"(\d+(?:\.\d+)?)" + re.escape(after), payload)
        if match:
            return True, float(match[1])
    if topic != plug.tell:
        return None
    return {plug.on: (True, float("inf")), plug.off: (False, float("inf"))}.get(payload)
