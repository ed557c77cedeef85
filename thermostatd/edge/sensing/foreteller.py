"""The topic of the forecast: the outdoor air of the coming hours as it was told last, from now on.

Rules: as with a sensor, a retained message without a time of its own brings nothing, for it may be days old; what makes
no sense is noted for the log and brings nothing, so that the one before it goes on; one told with its time is moved on
to now by straight lines.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from thermostatd.core.forecast import LEAST_VALUES
from thermostatd.core.house import ForecastSource
from thermostatd.core.values import Forecast, Missing
from thermostatd.edge.broker import Heard
from thermostatd.edge.sensing.payload import age_from, hourly_from

JUST_NOW_SECONDS = 60.0
RETAINED = "a retained forecast without a time of its own may be days old: waiting for a live one"
Note = Callable[[str], None]


class Foreteller:
    """What one topic tells. `note` takes a sentence on what brought nothing, "" when all is well."""

    def __init__(self, source: ForecastSource, note: Note) -> None:
        self._source, self._note = source, note
        self._news: tuple[float, ...] | None = None
        self._at: float | None = None

    def take(self, heard: Heard, now: float, wall: datetime) -> None:
        """A message on its topic."""
        age = self._age(heard, now, wall)
        if age is None:
            return
        celsius = hourly_from(heard.payload, self._source)
        if isinstance(celsius, Missing):
            self._note(celsius.why)
        elif self._at is not None and now - age < self._at - 1.0:
            self._note("a forecast older than the one before it: left out")
        else:
            self._at, self._news = now - age, celsius
            self._note("")

    def _age(self, heard: Heard, now: float, wall: datetime) -> float | None:
        """Seconds since its first number held; None where the message brings nothing."""
        if heard.refused is not None:
            self._note(heard.refused)
            return None
        if self._source.time is None:
            if heard.retained:
                self._note(RETAINED)
            return None if heard.retained else now - heard.at
        age = age_from(heard.payload, self._source.time, wall)
        if isinstance(age, Missing):
            self._note(age.why)
            return None
        return age

    def news(self, now: float) -> tuple[float, ...]:
        """The outdoor air from now on, °C for now and each hour after, if a forecast came since the last call."""
        celsius, self._news = self._news, None
        if celsius is None or self._at is None:
            return ()
        found = from_now(Forecast(celsius, now - self._at))
        if len(found) < LEAST_VALUES:
            self._note("its last hour is past")
        return found


def from_now(told: Forecast) -> tuple[float, ...]:
    """The same for now and each hour after that it reaches; empty where fewer than two are left."""
    if told.age_seconds <= JUST_NOW_SECONDS:
        return told.celsius
    hours = int(told.left_seconds // 3600.0) + 1
    return tuple(told.at(3600.0 * hour) for hour in range(hours)) if hours >= LEAST_VALUES else ()
