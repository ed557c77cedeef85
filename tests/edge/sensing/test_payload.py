"""A sensor's payload as °C, and its own time."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from thermostatd.core.house import Sensor
from thermostatd.core.values import Missing
from thermostatd.edge.sensing.payload import OUTDOOR_CELSIUS, age_from, celsius_from

WALL = datetime(2026, 1, 31, 6, 30, tzinfo=UTC)


def sensor(**changes: object) -> Sensor:
    """A sensor of an invented room."""
    return Sensor.model_validate({"topic": "study/air"} | changes)


@pytest.mark.parametrize("payload", [b"-127", b"85", b"85.0", b"-127.00", b'{"celsius": 85}'])
def test_error_codes_are_refused_by_name(payload: bytes) -> None:
    """−127 and 85 °C are what a digital sensor says when it cannot measure (common practice, no source)."""
    found = celsius_from(payload, sensor(pointer="/celsius" if b"{" in payload else ""))
    assert isinstance(found, Missing)
    assert "cannot measure" in found.why


def test_error_code_is_seen_before_the_offset() -> None:
    """An offset does not hide an error code."""
    found = celsius_from(b"-127", sensor(offset=20))
    assert isinstance(found, Missing)
    assert "cannot measure" in found.why


@pytest.mark.parametrize(
    ("payload", "good"), [(b"-30", True), (b"60", True), (b"-30.1", False), (b"60.1", False)]
)
def test_plausible_bounds(payload: bytes, good: bool) -> None:
    """Room air of −30 to 60 °C is plausible, both ends included."""
    assert isinstance(celsius_from(payload, sensor()), float) is good


def test_outdoor_may_be_colder() -> None:
    """Outdoors −45 °C is plausible."""
    assert celsius_from(b"-45", sensor(), OUTDOOR_CELSIUS) == -45.0


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(b"32", 0.0), (b"68", 20.0), (b"-22", -30.0), (b"98.6", 37.0)]
)
def test_fahrenheit(fahrenheit: bytes, celsius: float) -> None:
    """°F is read as (F − 32)/1.8 (the definition; 98.6 °F is 37 °C)."""
    assert celsius_from(fahrenheit, sensor(unit="F")) == pytest.approx(celsius)


def test_fahrenheit_taken_for_celsius_is_refused() -> None:
    """68 from a sensor that is described as °C is not plausible."""
    found = celsius_from(b"68", sensor())
    assert isinstance(found, Missing)
    assert "68.0 °C is not plausible" in found.why


def test_scale_then_unit_then_offset() -> None:
    """Tenths of °F: scaled, turned into °C, then corrected."""
    assert celsius_from(b"680", sensor(scale=0.1, unit="F", offset=-0.5)) == pytest.approx(19.5)


@pytest.mark.parametrize(
    "told",
    [
        '"2026-01-31T07:20:00+01:00"',
        '"2026-01-31T06:20:00Z"',
        '"2026-01-31T06:20:00.000+00:00"',
        "1769840400",
        "1769840400.0",
        "1769840400000",
        '"1769840400"',
    ],
)
def test_ages(told: str) -> None:
    """ISO 8601 with an offset, and Unix seconds or milliseconds, all tell the same ten minutes."""
    assert age_from(f'{{"t": {told}}}'.encode(), "/t", WALL) == pytest.approx(600)


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ('"2026-01-31T06:33:00Z"', "3 min in the future"),
        ('"2026-01-31T06:20:00"', "lacks its offset"),
        ('"yesterday"', "is no time such as"),
        ('"²"', "is no time such as"),
        ("true", "a boolean"),
        ("null", "neither a text nor a number"),
        ("0", "is no time in seconds"),
        ("NaN", "is no time in seconds"),
        ("1e30", "is no time in seconds"),
        ('"0001-01-01T00:00:00+14:00"', None),
    ],
)
def test_bad_times(told: str, why: str | None) -> None:
    """A time in the future, without offset or of no known form is named; an ancient one is only old."""
    found = age_from(f'{{"t": {told}}}'.encode(), "/t", WALL)
    if why is None:
        assert isinstance(found, float)
        assert found > 1e10
    else:
        assert isinstance(found, Missing)
        assert why in found.why


def test_a_little_ahead_is_now() -> None:
    """A clock that is a minute ahead counts as now."""
    assert age_from(b'{"t": "2026-01-31T06:31:00Z"}', "/t", WALL) == 0.0


def test_no_time_at_the_pointer() -> None:
    """A reading that should carry its time and does not is named."""
    found = age_from(b'{"celsius": 19}', "/t", WALL)
    assert isinstance(found, Missing)
    assert "/t" in found.why
