"""Where the sun stands, and what of it falls on a wall or comes through its glass.

Rules: angles in radians inside, degrees at the faces; south-facing azimuth is 180°, clockwise from north; W/m².
Declination and the equation of time are Spencer's series as handbooks give them (from memory), good to 0.1°;
the clearer the sky, the more of its light comes from round the sun (Hay & Davies, from memory); the ground
reflects a fifth.
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


def outside_air_beam(day_of_year: float) -> float:
    """The sun's beam over the air, W/m²: the solar constant and the year's distance."""
    return 1367.0 * (1.0 + 0.033 * cos(2.0 * pi * day_of_year / 365.0))


def light_on(
    sun: SunPlace,
    day_of_year: float,
    direct_normal: float,
    diffuse_horizontal: float,
    global_horizontal: float,
    faces_degrees: float = 180.0,
    tilt_degrees: float = 90.0,
) -> tuple[float, float, float]:
    """On a surface, W/m²: the beam with what comes from round the sun; sky and ground; and the cosine of the first."""
    cosine = incidence_cosine(sun, faces_degrees, tilt_degrees)
    clear = min(1.0, direct_normal / outside_air_beam(day_of_year))
    flat = max(sin(radians(sun.height_degrees)), 0.05)
    tilted = cos(radians(tilt_degrees))
    beam = direct_normal * cosine + diffuse_horizontal * clear * cosine / flat
    sky = 0.5 * (1.0 + tilted) * diffuse_horizontal * (1.0 - clear)
    ground = 0.5 * (1.0 - tilted) * GROUND_REFLECTS * global_horizontal
    return beam, sky + ground, cosine


def glass_passes(cosine: float) -> float:
    """Share of its normal solar gain that plain double glass keeps at an angle.

    1 − tan^3.4(θ/2): a fit to a handbook's table of plain double glass (from memory), 0.97 at 40°, 0.85 at 60°,
    0.45 at 80°.
    """
    if cosine <= 0.0:
        return 0.0
    half = tan(acos(_unit(cosine)) / 2.0)
    return max(0.0, 1.0 - float(half**3.4))


GLASS_PASSES_DIFFUSE = 0.87
"""The same of light from everywhere (close to 60°)."""
