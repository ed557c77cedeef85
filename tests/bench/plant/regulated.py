"""The regulator in the plant: it gets what sensors and plugs tell, its orders reach the plugs, it learns on its days.

Rules: one step a minute (tick 60 s), a reading before each; orders act in the minute that follows; it is fitted
each midnight, as the daemon does each night; days are counted from the start of the run.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from math import pi, sin
from random import Random
from typing import Any

from tests.bench.plant.devices import Heater, People, Sensor
from tests.bench.plant.houses import Building
from tests.bench.plant.trace import Trace
from thermostatd import History, Moment, Observation, PlugReport, Reading, Regulator, fit
from thermostatd.core.house import House
from thermostatd.rehearsal.nature import Foretold

MONDAY = datetime(2026, 2, 2, tzinfo=UTC)
BEGIN_STEADY = 1000.0
WARM_UP_CELSIUS = 19.0


@dataclass
class Knobs:
    """What a run of trouble changes; `happens` is called each minute with the driver and the seconds gone."""

    sensor_period: float = 60.0
    sensor_step: float = 0.1
    sensor_change: float = 0.0
    """Of sensors that report on change, K; 0: they report by period."""
    sensor_silence: float = 3600.0
    sensor_beside: float = 0.0
    """What a watt of its heater's output adds to what a sensor beside it feels, K/W."""
    outdoor_sun: float = 0.0
    """What the sun adds to the outdoor sensor at noon, K."""
    swapped: bool = False
    heater_errs: float = 1.0
    outdoor: bool = True
    meter: bool = True
    forecast: bool = False
    happens: Callable[[Regulated, float], None] | None = None
    fit_days: tuple[int, ...] | None = None
    """On which days it is fitted; None: on each."""


@dataclass
class Fits:
    """How long fitting took, and what came of it."""

    seconds: list[float] = field(default_factory=list)
    learned: list[dict[str, Any]] = field(default_factory=list)


class Regulated:
    """Drives the plant with a Regulator."""

    def __init__(
        self,
        building: Building,
        house: House,
        seed: int,
        trace: Trace,
        knobs: Knobs | None = None,
        foretold: Foretold | None = None,
    ) -> None:
        """`foretold` tells the outdoor air ahead, by the seconds of the run; the house then has a forecast."""
        self.knobs, self._foretold = knobs or Knobs(), foretold
        self.building, self.house, self.trace = building, house, trace
        cells = building.cells
        self.heaters = [Heater(c, Random(f"heater/{seed}/{c.name}"), self.knobs.heater_errs) for c in cells]
        self.sensors = [
            Sensor(c.sensor_seconds, Random(f"sensor/{seed}/{c.name}"), step_kelvin=self.knobs.sensor_step,
                   period_seconds=self.knobs.sensor_period, change_kelvin=self.knobs.sensor_change,
                   longest_seconds=self.knobs.sensor_silence)
            for c in cells
        ]  # fmt: skip
        self.people = [People(c, Random(f"people/{seed}/{c.name}")) for c in cells]
        self.windows: list[float | None] = [None] * len(cells)
        self.extra_watts = [0.0] * len(cells)
        self._noise = Random(f"meter/{seed}")
        self.keys = [room.key_of(room.heaters[0]) for room in house.rooms]
        self.regulator = Regulator(house)
        self.history = History(house)
        self.fits = Fits()
        self.step_seconds: list[float] = []
        self.told: dict[str, int] = {}
        self.gone = 0.0

    def open_window_changes(self) -> list[float | None]:
        """Air changes of open windows."""
        return self.windows

    def minute(self, air: list[float], outdoor: float, warming: bool) -> list[tuple[float, float]]:
        """One minute: sense, step, tell, and what the heaters and people then give."""
        if warming:
            return _warm_up(self, air)
        if self.knobs.happens is not None:
            self.knobs.happens(self, self.gone)
        self._learn()
        for sensor, celsius, heater in zip(self.sensors, air, self.heaters, strict=True):
            sensor.minute(celsius + self.knobs.sensor_beside * heater.store_watts)
        moment = Moment(MONDAY + timedelta(seconds=self.gone), BEGIN_STEADY + self.gone)
        seen = self._observation(outdoor)
        begun = time.thread_time()
        result = self.regulator.step(moment, seen)
        self.step_seconds.append(time.thread_time() - begun)
        self.history.add(moment, seen, result)
        for key, heater in zip(self.keys, self.heaters, strict=True):
            heater.tell(result.orders[key].on)
        self._note(result, air, outdoor)
        heat = [heater.minute(self.gone) for heater in self.heaters]
        people = [p.watts(self.gone) + more for p, more in zip(self.people, self.extra_watts, strict=True)]
        self.gone += 60.0
        return [(a + 0.5 * p, s + 0.5 * p) for (a, s), p in zip(heat, people, strict=True)]

    def _learn(self) -> None:
        if self.house.rooms[0].control == "hysteresis":
            return  # it uses no model
        if self.gone and self.gone % 86400.0 == 0.0 and self._fits_on(int(self.gone // 86400.0)):
            begun = time.thread_time()
            models = fit(self.house, self.history)
            self.fits.seconds.append(time.thread_time() - begun)
            self.fits.learned.append(models)
            self.regulator.adopt(models)

    def _fits_on(self, day: int) -> bool:
        return self.knobs.fit_days is None or day in self.knobs.fit_days

    def _observation(self, outdoor: float) -> Observation:
        told = [sensor.told(self.gone) for sensor in self.sensors]
        if self.knobs.swapped:
            told = [told[1], told[0], *told[2:]]
        names = [room.name for room in self.house.rooms]
        plugs = {
            key: PlugReport(
                on=heater.on,
                watts=max(0.0, round(heater.drawn_watts(self.gone) + self._noise.gauss(0, 1.5), 0))
                if self.knobs.meter
                else None,
                volts=round(heater.volts(self.gone), 1) if self.knobs.meter else None,
            )
            for key, heater in zip(self.keys, self.heaters, strict=True)
        }
        sun = self.knobs.outdoor_sun * max(0.0, sin(2 * pi * (self.gone / 86400.0 - 0.25)))
        yard = Reading(round(outdoor + sun + self._noise.gauss(0, 0.1), 1)) if self.knobs.outdoor else None
        return Observation(
            air={name: Reading(value) for name, value in zip(names, told, strict=True) if value is not None},
            outdoor=yard,
            plugs=plugs,
            forecast=self._foretold.news(self.gone) if self._foretold else (),
        )

    def _note(self, result: Any, air: list[float], outdoor: float) -> None:
        rooms = [result.rooms[room.name] for room in self.house.rooms]
        self.trace.add(air, outdoor, [r.target.celsius for r in rooms], [result.orders[key].on for key in self.keys],
                       [h.drawn_watts(self.gone) for h in self.heaters])  # fmt: skip
        for key, room in zip(self.keys, rooms, strict=True):
            code = f"{key} {result.orders[key].reason.code}"
            self.told[code] = self.told.get(code, 0) + 1
            for verdict in room.heaters[key].verdicts:
                if verdict.tripped:
                    said = f"{key} tripped {verdict.code}"
                    self.told[said] = self.told.get(said, 0) + 1


def _warm_up(driver: Any, air: list[float]) -> list[tuple[float, float]]:
    """Hold the rooms near a start temperature while the engine settles its walls."""
    return [(min(1500.0, max(0.0, 300.0 + 400.0 * (WARM_UP_CELSIUS - celsius))), 0.0) for celsius in air]
