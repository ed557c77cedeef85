"""Where the sun stands, and what of it falls on a wall or comes through its glass.

Rules: angles in radians inside, degrees at the faces; south-facing azimuth is 180°, clockwise from north; W/m².
Declination and the equation of time are Spencer's series as handbooks give them (from memory), good to 0.1°;
the sky's diffuse light is taken as even (Liu & Jordan), and the ground reflects a fifth.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, cos, pi, radians, sin, tan

GROUND_REFLECTS = 0.2


@dataclass(frozen=True, slots=True)
class SunPlace:
    """The sun as seen from somewhere: its height over the horizon and its azimuth from north, degrees."""

    height_degrees: float
    azimuth_degrees: float


def sun_place(
    day_of_year: float, clock_hours: float, latitude: float, longitude: float, zone_hours: float
) -> SunPlace:
    """The sun's place at a standard-time clock hour; longitude east is positive, both in degrees."""
    turn = 2.0 * pi * (day_of_year - 1.0 + (clock_hours - 12.0) / 24.0) / 365.0
    declination = _declination(turn)
    solar_hours = clock_hours + (longitude - 15.0 * zone_hours) / 15.0 + equation_of_time_minutes(turn) / 60.0
    hour_angle, north = radians(15.0 * (solar_hours - 12.0)), radians(latitude)
    height = asin(_unit(sin(north) * sin(declination) + cos(north) * cos(declination) * cos(hour_angle)))
    if abs(cos(height)) < 1e-9 or abs(cos(north)) < 1e-9:
        return SunPlace(height * 180.0 / pi, 180.0)
    east_of_north = acos(_unit((sin(declination) - sin(height) * sin(north)) / (cos(height) * cos(north))))
    azimuth = east_of_north if sin(hour_angle) <= 0.0 else 2.0 * pi - east_of_north
    return SunPlace(height * 180.0 / pi, azimuth * 180.0 / pi)


def equation_of_time_minutes(turn: float) -> float:
    """Sundial minus clock, minutes; `turn` is the year's angle from 1 January, radians."""
    return 229.18 * (
        0.000075
        + 0.001868 * cos(turn)
        - 0.032077 * sin(turn)
        - 0.014615 * cos(2 * turn)
        - 0.040849 * sin(2 * turn)
    )


def _declination(turn: float) -> float:
    return (
        0.006918 - 0.399912 * cos(turn) + 0.070257 * sin(turn) - 0.006758 * cos(2 * turn)
        + 0.000907 * sin(2 * turn) - 0.002697 * cos(3 * turn) + 0.00148 * sin(3 * turn)
    )  # fmt: skip


def _unit(value: float) -> float:
    return max(-1.0, min(1.0, value))


def incidence_cosine(sun: SunPlace, faces_degrees: float = 180.0, tilt_degrees: float = 90.0) -> float:
    """Cosine of the angle between the sun and a surface's normal, never under zero; tilt 0 is a flat roof."""
    height, tilt = radians(sun.height_degrees), radians(tilt_degrees)
    if height <= 0.0:
        return 0.0
    beside = cos(radians(sun.azimuth_degrees - faces_degrees))
    return max(0.0, sin(height) * cos(tilt) + cos(height) * sin(tilt) * beside)


def diffuse_on(diffuse_horizontal: float, global_horizontal: float, tilt_degrees: float = 90.0) -> float:
    """Sky and ground light on a tilted surface, W/m²."""
    tilted = cos(radians(tilt_degrees))
    sky, ground = 0.5 * (1.0 + tilted), 0.5 * (1.0 - tilted)
    return sky * diffuse_horizontal + ground * GROUND_REFLECTS * global_horizontal


def glass_passes(cosine: float) -> float:
    """Share of its normal solar gain that double glass keeps at an angle: 1 − tan³(θ/2) (from memory)."""
    if cosine <= 0.0:
        return 0.0
    return max(0.0, 1.0 - tan(acos(_unit(cosine)) / 2.0) ** 3)


GLASS_PASSES_DIFFUSE = 0.86
"""The same of light from everywhere (close to 60°)."""
