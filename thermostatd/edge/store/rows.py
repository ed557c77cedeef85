"""What the store keeps, as plain rows. Times named `wall` are aware; temperatures are °C, kept to 0.01.

`minute` is the number of whole minutes since 1970 UTC (Unix seconds // 60).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from thermostatd.edge.clock import Stamp

__all__ = [
    "CodeRow",
    "DeviceRow",
    "EventRow",
    "HeaterMinuteRow",
    "MinuteRow",
    "RequestRow",
    "Stamp",
    "StoreError",
]


class StoreError(Exception):
    """The store could not do it; the sentence says why and what mends it."""


@dataclass(frozen=True, slots=True)
class RequestRow:
    """One request as it was answered: who, when, by which road, and what it replaced."""

    wall: datetime
    steady: float
    kind: str
    about: str
    celsius: float | None = None
    until: datetime | None = None
    who: str | None = None
    origin: str | None = None
    answer: str = ""
    code: str | None = None
    replaced: str | None = None


@dataclass(frozen=True, slots=True)
class EventRow:
    """One thing that happened. `told` is what its sentence was made of, as JSON, where that is known."""

    wall: datetime
    code: str
    about: str
    sentence: str
    told: str | None = None


@dataclass(frozen=True, slots=True)
class MinuteRow:
    """A room's minute. `air`, `target` and `outdoor` are None where missing.

    Older minutes come back as quarter hours: `span_minutes` 15, the means, and whose wish held last.
    """

    minute: int
    room: str
    air: float | None
    target: float | None
    outdoor: float | None
    whose: str
    span_minutes: int = 1


@dataclass(frozen=True, slots=True)
class HeaterMinuteRow:
    """A heater's minute: seconds on, energy in watt-seconds, switchings. Quarter hours hold the sums."""

    minute: int
    heater: str
    on_seconds: int
    watt_seconds: int
    switches: int
    span_minutes: int = 1


@dataclass(frozen=True, slots=True)
class CodeRow:
    """A join code: the role it gives, the name it was made for, a guest's one room, and when the joining ends."""

    code_hash: str
    role: str
    expires_wall: datetime
    name: str
    room: str | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """A device that joined. `until` ends it (None: no end); `seen` is when it last asked."""

    id_hash: str
    name: str
    role: str
    until: datetime | None = None
    added: datetime | None = None
    seen: datetime | None = None
    room: str | None = None
