"""The forecast of the outdoor air: taken in, kept for half a day, and known as long as it lasts.

Rules: one that holds anything but plausible numbers brings nothing, and the one before it stays; a day of it is kept,
in tenths, more than anyone plans ahead; it ends twelve hours after it was told, or with its own last hour.
"""

from __future__ import annotations

from thermostatd.core.clock import Now
from thermostatd.core.house import House
from thermostatd.core.memory import ForecastMemory, Memory
from thermostatd.core.values import Forecast, Observation, is_finite

LEAST_VALUES, MOST_VALUES = 2, 240
KEPT_VALUES = 25
LONGEST_SECONDS = 12 * 3600.0
MILD_CELSIUS = 5.0


def forecast_of(
    house: House, memory: Memory, seen: Observation, now: Now, span: tuple[float, float]
) -> Forecast | None:
    """Take a new one in, and say what is forecast now; `span` is what outdoor air can be, °C."""
    if house.house.forecast is None:
        memory.forecast = ForecastMemory()
        return None
    if _sound(seen.forecast, span):
        memory.forecast = ForecastMemory(
            [round(float(one), 1) for one in seen.forecast[:KEPT_VALUES]], now.steady
        )
    kept = memory.forecast
    if kept.at is None or len(kept.celsius) < LEAST_VALUES:
        return None
    found = Forecast(tuple(kept.celsius), now.steady - kept.at)
    if not 0.0 <= found.age_seconds <= LONGEST_SECONDS or found.left_seconds <= 0.0:
        memory.forecast = ForecastMemory()
        return None
    return found


def outdoors_now(felt_celsius: float | None, forecast: Forecast | None) -> float:
    """The outdoor air, °C: as felt, or as forecast for now, or a mild day's."""
    if felt_celsius is not None:
        return felt_celsius
    return MILD_CELSIUS if forecast is None else forecast.at(0.0)


def _sound(told: object, span: tuple[float, float]) -> bool:
    if not isinstance(told, (tuple, list)) or not LEAST_VALUES <= len(told) <= MOST_VALUES:
        return False
    return all(is_finite(one) and span[0] <= one <= span[1] for one in told)
