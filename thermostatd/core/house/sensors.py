"""Where a value comes from on the broker, and how it is read. Temperatures are °C inside."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from thermostatd.core.house.base import Table
from thermostatd.core.house.units import Pointer, Positive, Seconds, Topic


class Source(Table):
    """One value on the broker: a topic, and a JSON Pointer (RFC 6901) into its payload."""

    topic: Topic
    """The MQTT topic, without wildcards."""
    pointer: Pointer = ""
    """JSON Pointer to the value; empty: the whole payload is the value."""


class Meter(Source):
    """A number on the broker with a factor, for meters that speak kW or tenths."""

    scale: Positive = 1.0
    """The value is multiplied by this."""


class ForecastSource(Source):
    """A forecast of the outdoor air: a JSON array of 2 to 240 numbers, for now and each hour after it."""

    time: Pointer | None = None
    """JSON Pointer to the time of its first number (ISO 8601 with offset, or Unix seconds); left out: when heard."""
    unit: Literal["C", "F"] = "C"
    """The unit the numbers are in."""


class Presence(Table):
    """A topic on which a device is known to be there or away."""

    topic: Topic
    """The MQTT topic, without wildcards."""
    pointer: Pointer = ""
    """JSON Pointer to the value; empty: the whole payload is the value."""
    yes: str = "online"
    """The payload that means: there."""
    no: str = "offline"
    """The payload that means: away."""


class Sensor(Source):
    """A temperature sensor."""

    time: Pointer | None = None
    """JSON Pointer to the reading's own time (ISO 8601 with offset, or Unix seconds)."""
    unit: Literal["C", "F"] = "C"
    """The unit the payload speaks."""
    scale: Positive = 1.0
    """The value is multiplied by this, before `offset`."""
    offset: float = Field(default=0.0, ge=-20, le=20, allow_inf_nan=False)
    """Kelvins added after scale and unit, from a comparison with a good thermometer."""
    stale_after: Seconds | None = Field(default=None)
    """Silence after which the reading no longer counts (left out: three learned intervals, 10 to 60 min; up to 65 for
    one that speaks only on change)."""
    present: Presence | None = None
    """Where the sensor says that it is there."""
    battery: Source | None = None
    """Where the sensor tells its battery, in percent."""
