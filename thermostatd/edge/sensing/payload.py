"""A sensor's payload as °C, and the moment it was measured. Pure.

Rules: the well-known error codes of digital sensors (−127 and 85 °C; common practice, no published source)
and what no room has are refused by name; a time of its own needs an offset and may not lie in the future.
"""

from __future__ import annotations

from datetime import datetime

from thermostatd.core.forecast import LEAST_VALUES, MOST_VALUES
from thermostatd.core.house import ForecastSource, Sensor
from thermostatd.core.said import said
from thermostatd.core.values import Missing, is_finite
from thermostatd.edge.broker_payload import number_from, shown, value_at

__all__ = ["AIR_CELSIUS", "OUTDOOR_CELSIUS", "age_from", "celsius_from", "hourly_from", "number_from"]

AIR_CELSIUS = (-30.0, 60.0)
OUTDOOR_CELSIUS = (-60.0, 60.0)
ERROR_CODES_CELSIUS = (-127.0, 85.0)
AHEAD_SECONDS = 120.0
_MILLISECONDS_FROM = 1e11  # as seconds this is the year 5138, as milliseconds 1973


def celsius_from(
    payload: bytes, sensor: Sensor, plausible: tuple[float, float] = AIR_CELSIUS
) -> float | Missing:
    """The temperature in a sensor's payload, °C after scale, unit and offset, or Missing with the reason."""
    number = number_from(payload, sensor.pointer, scale=sensor.scale)
    if isinstance(number, Missing):
        return number
    celsius = _celsius(number, sensor.unit)
    for code in ERROR_CODES_CELSIUS:
        if abs(celsius - code) < 0.01:
            return Missing(
                said("{code:.0f} °C is what a digital sensor says when it cannot measure", code=code)
            )
    celsius += sensor.offset
    lowest, highest = plausible
    if not lowest <= celsius <= highest:
        return Missing(
            said(
                "{celsius:.1f} °C is not plausible here ({lowest:.0f} to {highest:.0f} °C are)",
                celsius=celsius,
                lowest=lowest,
                highest=highest,
            )
        )
    return celsius


def hourly_from(payload: bytes, source: ForecastSource) -> tuple[float, ...] | Missing:
    """The outdoor air of the coming hours in a payload, °C, whole, or Missing with the reason."""
    told = value_at(payload, source.pointer)
    if isinstance(told, Missing):
        return told
    if not isinstance(told, list):
        return Missing(f"{shown(told)} is no array of numbers")
    if not LEAST_VALUES <= len(told) <= MOST_VALUES:
        return Missing(f"{len(told)} numbers, and a forecast has {LEAST_VALUES} to {MOST_VALUES}")
    lowest, highest = OUTDOOR_CELSIUS
    found = []
    for index, one in enumerate(told):
        if not is_finite(one):
            return Missing(f"{shown(one)}, at place {index}, is no number")
        celsius = _celsius(float(one), source.unit)
        if not lowest <= celsius <= highest:
            return Missing(
                f"{celsius:.1f} °C, at place {index}, is not plausible outdoors ({lowest:.0f} to {highest:.0f} °C are)"
            )
        found.append(celsius)
    return tuple(found)


def _celsius(degrees: float, unit: str) -> float:
    return (degrees - 32.0) / 1.8 if unit == "F" else degrees


def age_from(payload: bytes, pointer: str, wall: datetime) -> float | Missing:
    """Seconds since the time that a payload tells (0 where it is at most 2 min ahead), or Missing."""
    told = value_at(payload, pointer)
    if isinstance(told, Missing):
        return told
    when = _seconds_of_number(told) if isinstance(told, (int, float)) else _seconds_of_text(told)
    if isinstance(when, Missing):
        return when
    age = wall.timestamp() - when
    if age < -AHEAD_SECONDS:
        return Missing(
            said(
                "its own time is {minutes:.0f} min in the future: the sensor's clock is wrong, or ours",
                minutes=-age / 60,
            )
        )
    return max(age, 0.0)


def _seconds_of_number(told: float) -> float | Missing:
    if isinstance(told, bool):
        return Missing("its own time is a boolean")
    try:
        number = float(told)
    except OverflowError:
        return Missing("its own time is too large")
    if not 0 < number < 1e14:
        return Missing(f"{number:g} is no time in seconds or milliseconds since 1970")
    return number / 1000.0 if number >= _MILLISECONDS_FROM else number


def _seconds_of_text(told: object) -> float | Missing:
    if not isinstance(told, str):
        return Missing("its own time is neither a text nor a number")
    try:
        return _seconds_of_number(float(told)) if told.strip().replace(".", "", 1).isdigit() else _iso(told)
    except ValueError:
        return Missing(f"{shown(told)} is no time such as 2026-01-31T07:30:00+01:00")


def _iso(told: str) -> float | Missing:
    when = datetime.fromisoformat(told.strip())
    if when.tzinfo is None:
        return Missing(f"{shown(told)} lacks its offset from UTC, such as +01:00 or Z")
    return when.timestamp()
