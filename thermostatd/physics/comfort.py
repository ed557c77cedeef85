"""What a person feels: operative temperature, PMV and PPD, radiant heat, damp surfaces, and drifts.

Rules: °C, m/s, W/m² and percent; each function names its standard; air temperature alone shows neither
comfort nor the risk of a burn under an infrared heater.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, pi, sqrt

STEFAN_BOLTZMANN = 5.670374419e-8
KELVIN = 273.15
LOWEST_WELL_BALANCED_CELSIUS = 18.0  # WHO 2018, second-hand: warn below
SAFE_SURFACE_FACTOR = 0.70  # f_Rsi, DIN 4108-2


def operative_celsius(
    air_celsius: float, radiant_celsius: float, air_metres_per_second: float = 0.1
) -> float:
    """Operative temperature, °C (CIBSE Guide A, ISO 7726); air over 0.1 m/s weighs √(10·v)."""
    if not air_metres_per_second >= 0:
        raise ValueError("air speed cannot be negative")
    weight = sqrt(10.0 * max(air_metres_per_second, 0.1))
    return (air_celsius * weight + radiant_celsius) / (1.0 + weight)


def _clothes_celsius(
    air: float, radiant: float, speed: float, clothes: float, area: float, heat: float
) -> tuple[float, float]:
    """Clothing surface °C and convective coefficient W/(m²·K), by the standard's iteration."""
    skin = 35.7 - 0.028 * heat
    forced = 12.1 * sqrt(speed)
    surface = air + (35.5 - air) / (3.5 * (6.45 * clothes + 0.1))
    convective = forced
    for _ in range(300):
        convective = max(2.38 * abs(surface - air) ** 0.25, forced)
        radiated = 3.96e-8 * area * ((surface + 273.0) ** 4 - (radiant + 273.0) ** 4)
        after = skin - clothes * (radiated + area * convective * (surface - air))
        if abs(after - surface) < 1e-6:
            return after, convective
        surface += 0.25 * (after - surface)
    raise ValueError("no clothing temperature balances: check the inputs")


def pmv(
    air_celsius: float,
    radiant_celsius: float,
    air_metres_per_second: float,
    humidity_percent: float,
    met: float,
    clo: float,
) -> float:
    """Predicted mean vote, -3 to +3 (ISO 7730), without external work."""
    if not 0 <= humidity_percent <= 100 or met <= 0 or clo < 0 or air_metres_per_second < 0:
        raise ValueError("humidity is 0 to 100 %, met over zero, clo and air speed not negative")
    vapour = humidity_percent * 10.0 * exp(16.6536 - 4030.183 / (air_celsius + 235.0))
    heat, clothes = 58.15 * met, 0.155 * clo
    area = 1.0 + 1.29 * clothes if clothes <= 0.078 else 1.05 + 0.645 * clothes
    surface, convective = _clothes_celsius(
        air_celsius, radiant_celsius, air_metres_per_second, clothes, area, heat
    )
    lost = 3.05e-3 * (5733.0 - 6.99 * heat - vapour) + max(0.42 * (heat - 58.15), 0.0)
    lost += 1.7e-5 * heat * (5867.0 - vapour) + 0.0014 * heat * (34.0 - air_celsius)
    lost += 3.96e-8 * area * ((surface + 273.0) ** 4 - (radiant_celsius + 273.0) ** 4)
    lost += area * convective * (surface - air_celsius)
    return (0.303 * exp(-0.036 * heat) + 0.028) * (heat - lost)


def ppd_percent(vote: float) -> float:
    """Share of people dissatisfied at a mean vote, % (ISO 7730)."""
    return 100.0 - 95.0 * exp(-0.03353 * vote**4 - 0.2179 * vote**2)


def panel_on_axis(radiant_watts: float, metres: float) -> float:
    """Irradiance of a small flat radiator on its axis, W/m²: Q/(π·d²)."""
    if not metres > 0:
        raise ValueError("the distance must be over zero metres")
    return radiant_watts / (pi * metres * metres)


def point_source(radiant_watts: float, metres: float) -> float:
    """Irradiance of a source that shines alike in all directions, W/m²: Q/(4·π·d²)."""
    return panel_on_axis(radiant_watts, metres) / 4.0


def radiant_with_source(surroundings_celsius: float, irradiance: float, absorbed_share: float = 1.0) -> float:
    """Mean radiant temperature on a small sphere, °C, in a room with a beam of `irradiance` W/m².

    The sphere meets the beam with a quarter of its surface.
    """
    surroundings = (surroundings_celsius + KELVIN) ** 4
    return float((surroundings + absorbed_share * irradiance / (4.0 * STEFAN_BOLTZMANN)) ** 0.25 - KELVIN)


def warmer_before_a_panel(radiant_watts: float, metres: float, room_celsius: float = 18.0) -> float:
    """How much warmer it feels on the axis of a small flat radiator than in still air and walls of `room_celsius`, K.

    Operative temperature (ISO 7726) of a small black sphere in the radiator's beam: a person's mean, not the skin
    that faces it, which gets warmer than this.
    """
    radiant = radiant_with_source(room_celsius, panel_on_axis(radiant_watts, metres))
    return operative_celsius(room_celsius, radiant) - room_celsius


def saturation_pascals(celsius: float) -> float:
    """Saturation vapour pressure, Pa (EN ISO 13788)."""
    if celsius >= 0:
        return 610.5 * exp(17.269 * celsius / (237.3 + celsius))
    return 610.5 * exp(21.875 * celsius / (265.5 + celsius))


def celsius_of_saturation(pascals: float) -> float:
    """Temperature at which a vapour pressure saturates, °C (EN ISO 13788)."""
    if not pascals > 0:
        raise ValueError("vapour pressure must be over zero Pa")
    share = log(pascals / 610.5)
    return 237.3 * share / (17.269 - share) if share >= 0 else 265.5 * share / (21.875 - share)


def dew_point_celsius(celsius: float, humidity_percent: float) -> float:
    """Dew point, °C."""
    return celsius_of_saturation(humidity_percent / 100.0 * saturation_pascals(celsius))


def mould_surface_celsius(celsius: float, humidity_percent: float, surface_percent: float = 80.0) -> float:
    """The coldest a surface may be before the air at it passes 80 % humidity, °C (EN ISO 13788)."""
    return celsius_of_saturation(humidity_percent / surface_percent * saturation_pascals(celsius))


def surface_factor(surface_celsius: float, room_celsius: float, outdoor_celsius: float) -> float:
    """f_Rsi: how far a surface is from outdoors, as a share of the way to the room."""
    if room_celsius == outdoor_celsius:
        raise ValueError("the factor needs a difference between room and outdoors")
    return (surface_celsius - outdoor_celsius) / (room_celsius - outdoor_celsius)


# ASHRAE 55 (from memory): hours, and the largest change of operative temperature within them, K.
DRIFT_LIMITS = ((0.25, 1.1), (0.5, 1.7), (1.0, 2.2), (2.0, 2.8), (4.0, 3.3))
CYCLE_LIMIT_KELVIN = 1.1  # peak to peak, for cycles of up to 15 minutes


def largest_drifts(samples: Sequence[tuple[float, float]]) -> tuple[tuple[float, float, float], ...]:
    """For each ASHRAE 55 window: its hours, the largest change within it and the limit, K.

    `samples` are (hours, °C) in order of time.
    """
    return tuple((hours, _largest_change(samples, hours), limit) for hours, limit in DRIFT_LIMITS)


def _largest_change(samples: Sequence[tuple[float, float]], window: float) -> float:
    largest, first = 0.0, 0
    for index, (hours, _) in enumerate(samples):
        while samples[first][0] < hours - window - 1e-9:
            first += 1
        values = [celsius for _, celsius in samples[first : index + 1]]
        largest = max(largest, max(values) - min(values))
    return largest


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Mean minus set-point, and half of peak to peak, K, judged apart (idea of EN 15500-1)."""

    bias_kelvin: float
    half_swing_kelvin: float


def control_accuracy(celsius: Sequence[float], set_celsius: float) -> Accuracy:
    """Control accuracy of steady samples round a set-point."""
    if not celsius:
        raise ValueError("accuracy needs at least one sample")
    return Accuracy(sum(celsius) / len(celsius) - set_celsius, 0.5 * (max(celsius) - min(celsius)))
