"""From messages on the broker to what the rooms feel.

Rules: a room in which nothing new was heard is left out (the core knows when silence is too long);
several sensors give the median of the fresh ones, and the others are named; nothing is guessed.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from thermostatd.core.house import House, Room, Sensor
from thermostatd.core.values import Missing, Reading
from thermostatd.edge.broker import Heard
from thermostatd.edge.broker_payload import number_from
from thermostatd.edge.sensing.feeler import Feeler
from thermostatd.edge.sensing.foreteller import Foreteller
from thermostatd.edge.sensing.payload import AIR_CELSIUS, OUTDOOR_CELSIUS

__all__ = ["LOW_BATTERY_PERCENT", "OUTDOOR", "Collected", "Sensing"]

LOW_BATTERY_PERCENT = 15.0
OUTDOOR = "outdoor"
FORECAST = "forecast"
_CHANGE_IT = f"under {LOW_BATTERY_PERCENT:g} %: change it soon"
_FIGURES = re.compile(r"[\d.]+")


@dataclass(frozen=True, slots=True)
class Collected:
    """All that is new, by room; `notes` are sentences for the log, each told once while it holds.

    `battery_percent` is the weakest battery of each room (key `outdoor` for the outdoor sensor).
    """

    air: Mapping[str, Reading | Missing] = field(default_factory=dict)
    outdoor: Reading | Missing | None = None
    humidity_percent: Mapping[str, float] = field(default_factory=dict)
    battery_percent: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    forecast: tuple[float, ...] = ()


class Sensing:
    """Every sensor of a house. `now` gives steady seconds, `wall` the aware time of day."""

    def __init__(self, house: House, now: Callable[[], float], wall: Callable[[], datetime]) -> None:
        self._now, self._wall = now, wall
        self._takers: dict[str, list[Callable[[Heard], None]]] = defaultdict(list)
        self._humidity: dict[str, float] = {}
        self._notes: list[str] = []
        self._noted: dict[str, str] = {}
        self._rooms = {
            room.name: [self._feeler(room.name, sensor, AIR_CELSIUS) for sensor in room.all_sensors]
            for room in house.rooms
        }
        outdoor = house.house.outdoor
        self._outdoor = [self._feeler(OUTDOOR, outdoor, OUTDOOR_CELSIUS)] if outdoor is not None else []
        self._foreteller = self._listen_for_forecast(house)
        for room in house.rooms:
            self._listen_for_humidity(room)

    def topics(self) -> tuple[str, ...]:
        """Every topic that has to be heard."""
        return tuple(self._takers)

    def take(self, heard: Heard) -> None:
        """One message; those of other topics are left alone."""
        for taker in self._takers.get(heard.topic, ()):
            taker(heard)

    def collect(self) -> Collected:
        """What is new since the last call."""
        air = {room: said for room, feelers in self._rooms.items() if (said := self._said(room, feelers))}
        outdoor = self._said(OUTDOOR, self._outdoor)
        humidity, self._humidity = self._humidity, {}
        battery = self._batteries()
        forecast = self._foreteller.news(self._now()) if self._foreteller else ()
        notes, self._notes = tuple(self._notes), []
        return Collected(air, outdoor, humidity, battery, notes, forecast)

    def _feeler(self, where: str, sensor: Sensor, plausible: tuple[float, float]) -> Feeler:
        feeler = Feeler(sensor, partial(self._note, where, sensor.topic + sensor.pointer), plausible)
        self._takers[sensor.topic].append(lambda heard: feeler.take_air(heard, self._now(), self._wall()))
        if sensor.present is not None:
            self._takers[sensor.present.topic].append(feeler.take_presence)
        if sensor.battery is not None:
            self._takers[sensor.battery.topic].append(feeler.take_battery)
        return feeler

    def _listen_for_forecast(self, house: House) -> Foreteller | None:
        source = house.house.forecast
        if source is None:
            return None
        told = Foreteller(source, partial(self._note, FORECAST, source.topic + source.pointer))
        self._takers[source.topic].append(lambda heard: told.take(heard, self._now(), self._wall()))
        return told

    def _listen_for_humidity(self, room: Room) -> None:
        source = room.humidity
        if source is None:
            return

        def take(heard: Heard) -> None:
            percent = number_from(heard.payload, source.pointer, lowest=0, highest=100)
            if isinstance(percent, Missing):
                self._note(room.name, f"{source.topic}{source.pointer}", f"its humidity: {percent.why}")
            elif not heard.retained:
                self._humidity[room.name] = percent

        self._takers[source.topic].append(take)

    def _said(self, room: str, feelers: Sequence[Feeler]) -> Reading | Missing | None:
        if not any(feeler.news for feeler in feelers):
            return None
        now = self._now()
        for feeler in feelers:
            feeler.news = False
        if len(feelers) == 1:
            return feelers[0].says(now)
        return self._median(room, feelers, now)

    def _median(self, room: str, feelers: Sequence[Feeler], now: float) -> Reading | Missing:
        said = [(feeler, feeler.says(now)) for feeler in feelers]
        heard = [(feeler, reading) for feeler, reading in said if isinstance(reading, Reading)]
        lively = [reading for feeler, reading in heard if not feeler.is_late(now)]
        fresh = lively or [reading for _, reading in heard]
        dropped = [(feeler.name, gone.why) for feeler, gone in said if isinstance(gone, Missing)]
        if not fresh:
            told = "; ".join(f"{name}: {why}" for name, why in dropped)
            lied = any(isinstance(gone, Missing) and gone.implausible for _, gone in said)
            return Missing(told, implausible=lied)
        for name, why in dropped:
            self._note(room, name, f"left out of the median: {why}")
        newest = max(reading.at for reading in fresh if reading.at is not None)
        from statistics import median  # most rooms have one sensor

        return Reading(median(reading.celsius for reading in fresh), newest)

    def _batteries(self) -> dict[str, float]:
        weakest: dict[str, float] = {}
        for place, feelers in [*self._rooms.items(), (OUTDOOR, self._outdoor)]:
            known = [feeler.battery_percent for feeler in feelers if feeler.battery_percent is not None]
            if known:
                weakest[place] = min(known)
                low = min(known) < LOW_BATTERY_PERCENT
                self._note(place, "battery", _CHANGE_IT if low else "")
        return weakest

    def _note(self, where: str, who: str, sentence: str) -> None:
        """Once for each kind of sentence, so that a fault does not fill the log; an empty one ends it."""
        key, kind = f"{where}: {who}", _FIGURES.sub("#", sentence)
        if self._noted.get(key, "") == kind:
            return
        self._noted[key] = kind
        if sentence:
            self._notes.append(f"{key}: {sentence}")
