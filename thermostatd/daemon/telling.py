"""What the house tells the broker: retained JSON under `thermostatd/`, told on change and again on reconnect.

Rules: a topic is told when more than its reading's time changed; a trouble's topic is emptied when it ends, that of a
room or heater when it leaves the house, and a retained one of an earlier life is emptied too.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from thermostatd.core.results import Order, Result, RoomResult, Trouble
from thermostatd.core.values import Moment, Reading

ROOT = "thermostatd"
TROUBLES = f"{ROOT}/trouble/"
QUIETLY_CHANGING = ("at", "lapses")

Publish = Callable[[str, str, bool], bool]


class Telling:
    """Publishes results through `publish(topic, payload, retain)`, which answers False while the broker is away."""

    def __init__(self, publish: Publish) -> None:
        self._publish = publish
        self._told: dict[str, dict[str, Any]] = {}

    def tell(self, moment: Moment, result: Result) -> None:
        """Publish whatever is new in a result."""
        wanted = payloads(moment, result)
        for topic in [topic for topic in self._told if topic not in wanted]:
            if self._publish(topic, "", True):
                del self._told[topic]
        for topic, payload in wanted.items():
            if _lasting(self._told.get(topic)) != _lasting(payload) and self._publish(
                topic, json.dumps(payload, ensure_ascii=False), True
            ):
                self._told[topic] = payload

    def forget(self) -> None:
        """After a reconnect everything is told anew."""
        self._told = {topic: {} for topic in self._told}

    def left(self, names: Iterable[str]) -> None:
        """Rooms and heaters that the house has no longer, as an earlier life told: emptied by the next `tell`."""
        for name in names:
            self._told.setdefault(f"{ROOT}/{'heater' if '/' in name else 'room'}/{name}", {})

    def found_retained(self, topic: str, payload: bytes) -> None:
        """A trouble's topic as the broker kept it: emptied by the next `tell` if that trouble is over."""
        if topic.startswith(TROUBLES) and payload:
            self._told.setdefault(topic, {})


def payloads(moment: Moment, result: Result) -> dict[str, dict[str, Any]]:
    """Every topic with its payload."""
    told: dict[str, dict[str, Any]] = {}
    for name, room in result.rooms.items():
        told[f"{ROOT}/room/{name}"] = _room(moment, room)
        for key, heater in room.heaters.items():
            told[f"{ROOT}/heater/{key}"] = _heater(moment, result.orders[key], heater.watts)
    for key, order in result.orders.items():
        spot = result.spots.get(key.partition("/")[0])
        if spot is not None:
            told[f"{ROOT}/heater/{key}"] = _heater(moment, order, spot.heater.watts)
    for trouble in result.troubles:
        told[f"{TROUBLES}{trouble.id}"] = _trouble(trouble)
    return told


def _room(moment: Moment, room: RoomResult) -> dict[str, Any]:
    air = room.air if isinstance(room.air, Reading) else None
    return {
        "air": round(air.celsius, 2) if air else None,
        "at": _iso(moment, air.at) if air else None,
        "target": room.target.celsius,
        "until": room.target.until.isoformat() if room.target.until else None,
        "who": room.target.whose,
        "code": room.reason.code,
        "why": room.reason.sentence,
    }


def _heater(moment: Moment, order: Order, watts: float | None) -> dict[str, Any]:
    return {
        "on": order.on,
        "watts": round(watts) if watts is not None else None,
        "lapses": _iso(moment, order.lapses) if order.on else None,
        "code": order.reason.code,
        "why": order.reason.sentence,
    }


def _trouble(trouble: Trouble) -> dict[str, Any]:
    return {
        "what": trouble.what,
        "since": trouble.since.isoformat(timespec="seconds"),
        "evidence": trouble.evidence,
        "what to do": trouble.what_to_do,
        "loud": trouble.loud,
        "latched": trouble.latched,
        "seen": trouble.seen,
    }


def _iso(moment: Moment, steady: float | None) -> str | None:
    """A steady second as a wall time."""
    if steady is None:
        return None
    wall = moment.wall.timestamp() + steady - moment.steady
    return datetime.fromtimestamp(wall, UTC).isoformat(timespec="seconds")


def _lasting(payload: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """A payload without what changes all the time."""
    if payload is None:
        return None
    return {key: value for key, value in payload.items() if key not in QUIETLY_CHANGING}
