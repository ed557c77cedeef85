"""One sensor: what it said last, when, and whether that counts.

Rules: a retained message without a time of its own is not fresh and brings nothing new; a bad value is
Missing at once, not when it grows old; a sensor that says it is away is Missing until it says it is back.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from thermostatd.core.house import Sensor
from thermostatd.core.said import said
from thermostatd.core.values import Missing, Reading
from thermostatd.edge.broker import Heard
from thermostatd.edge.broker_payload import number_from, word_from
from thermostatd.edge.sensing.payload import AIR_CELSIUS, age_from, celsius_from

STALE_AFTER_SECONDS = 3600.0
LEAST_LATE_SECONDS, LATE_GAPS, FORGETS = 600.0, 3.0, 0.95
AWAY = "the sensor says that it is away"
Note = Callable[[str], None]


class Feeler:
    """The state of one sensor. `note` takes a sentence on what brought nothing, "" when all is well."""

    def __init__(self, sensor: Sensor, note: Note, plausible: tuple[float, float] = AIR_CELSIUS) -> None:
        self.sensor, self._note, self._plausible = sensor, note, plausible
        self._reading: Reading | None = None
        self._fault: Missing | None = None
        self._away = False
        self._gap = 0.0
        self.battery_percent: float | None = None
        self.news = False
        """Whether something was heard since this was last set back."""

    @property
    def name(self) -> str:
        """How the sensor is called in sentences."""
        return self.sensor.topic + self.sensor.pointer

    @property
    def stale_after_seconds(self) -> float:
        """Age at which its reading no longer counts."""
        return self.sensor.stale_after or STALE_AFTER_SECONDS

    def says(self, now: float) -> Reading | Missing:
        """Its reading at a steady second, or why there is none."""
        if self._away:
            return Missing(said(AWAY), implausible=False)
        if self._fault is not None:
            return self._fault
        if self._reading is None:
            return Missing(said("nothing heard of it yet"), implausible=False)
        age = now - (self._reading.at if self._reading.at is not None else now)
        if age > self.stale_after_seconds:
            why = said("its last reading is {minutes:.0f} min old", minutes=age / 60)
            return Missing(why, at=self._reading.at, implausible=False)
        return self._reading

    def is_late(self, now: float) -> bool:
        """Whether it has been silent for far longer than it is used to: another sensor beside it knows better."""
        at = self._reading.at if self._reading is not None else None
        return at is None or now - at > max(LEAST_LATE_SECONDS, LATE_GAPS * self._gap)

    def take_air(self, heard: Heard, now: float, wall: datetime) -> None:
        """A message on its topic."""
        if heard.refused is not None:
            self._fail(heard.refused, heard.at)
            return
        at = self._measured_at(heard, now, wall)
        if at is None:
            return
        celsius = celsius_from(heard.payload, self.sensor, self._plausible)
        if isinstance(celsius, Missing):
            self._fail(celsius.why, heard.at)
        elif self._reading is not None and at < (self._reading.at or 0.0) - 1.0:
            self._note("a reading older than the one before it: left out")
        else:
            self._learn_gap(at)
            self._reading, self._fault, self.news = Reading(celsius, at), None, True
            self._note("")

    def take_presence(self, heard: Heard) -> None:
        """A message on its presence topic; a retained one counts, since that is how presence is told."""
        presence = self.sensor.present
        if presence is None:
            return
        word = word_from(heard.payload, presence.pointer)
        if word == presence.yes or word == presence.no:
            away = word == presence.no
            self.news = self.news or away != self._away
            self._away = away
        else:
            self._note(f'its presence is neither "{presence.yes}" nor "{presence.no}"')

    def take_battery(self, heard: Heard) -> None:
        """A message on its battery topic."""
        if self.sensor.battery is None:
            return
        percent = number_from(heard.payload, self.sensor.battery.pointer, lowest=0, highest=100)
        if isinstance(percent, Missing):
            self._note(f"its battery: {percent.why}")
        else:
            self.battery_percent = percent

    def _learn_gap(self, at: float) -> None:
        """How long it pauses: at once upward, slowly downward."""
        if self._reading is not None and self._reading.at is not None:
            self._gap = max(at - self._reading.at, FORGETS * self._gap)

    def _measured_at(self, heard: Heard, now: float, wall: datetime) -> float | None:
        """The steady second of the measurement; None where the message brings nothing new or a fault."""
        if self.sensor.time is None:
            if heard.retained:
                self._note(
                    "a retained value without a time of its own may be days old: waiting for a live one"
                )
            return None if heard.retained else heard.at
        age = age_from(heard.payload, self.sensor.time, wall)
        if isinstance(age, Missing):
            self._fail(age.why, heard.at)
            return None
        return now - age

    def _fail(self, why: str, at: float) -> None:
        self._fault, self.news = Missing(why, at), True
