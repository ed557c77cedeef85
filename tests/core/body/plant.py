"""A heater of known build on a plug with a meter, under a Regulator that is always asked for more heat than it has.

Rules: the truth is physics/heaters.py; the Regulator sees only what the plug tells; the house is invented.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random

from thermostatd.core.facts import HeaterFacts
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken
from thermostatd.core.values import Moment, Observation, Reading
from thermostatd.physics.heater_kinds import oil_filled
from thermostatd.physics.heaters import HeaterBody, HeaterDesign
from thermostatd.physics.rooms import RoomBody, room_from_floor
from thermostatd.rehearsal.nature import ColdSpell, Mains
from thermostatd.rehearsal.plugs import HeatedPlug, MeterTraits

TOML = """
[house]
name = "Quay House"
timezone = "UTC"
mains_volts = {volts}
tick = "{tick} s"
[[room]]
name = "study"
sensor = {{ topic = "study/air" }}
usual = [{{ days = "daily", at = "00:00", celsius = 22 }}]
[[room.heater]]
name = "column"
watts = {watts}
settings_watts = [588, 912, 1500]
may_run = ["awake", "asleep", "away"]
{heater}
plug = {{ kind = "simulated" }}
"""
KEY = "study/column"
INNER_SECONDS = 2.5
START = datetime(2026, 1, 5, tzinfo=UTC)


def design(capacity: float = 1.0, output: float = 1.0, volts: float = 230.0, **other: float) -> HeaterDesign:
    """The column heater sold as 1500 W, its store and output times these."""
    usual = oil_filled(volts)
    return replace(
        usual,
        body_joules_per_kelvin=usual.body_joules_per_kelvin * capacity,
        watts_per_kelvin_n=usual.watts_per_kelvin_n * output,
        **other,
    )


def best_watts(built: HeaterDesign, watts: float, min_on: float, min_off: float, celsius: float) -> float:
    """Mean power of the best periodic on/off cycle under the minimum times that never opens the cut-out, W."""
    if watts <= built.sustained_watts(celsius):
        return watts
    low, high = min_off, 6 * 3600.0
    if _heating_seconds(built, watts, low, celsius) >= min_on:
        return _mean(built, watts, low, celsius)
    while high - low > 1.0:
        middle = 0.5 * (low + high)
        enough = _heating_seconds(built, watts, middle, celsius) >= min_on
        low, high = (low, middle) if enough else (middle, high)
    return _mean(built, watts, high, celsius)


def _mean(built: HeaterDesign, watts: float, off: float, celsius: float) -> float:
    on = _heating_seconds(built, watts, off, celsius)
    return watts * on / (on + off)


def _heating_seconds(
    built: HeaterDesign, watts: float, off: float, celsius: float, step: float = 2.0
) -> float:
    """How long a run lasts from a rest of `off` seconds after the opening level, back up to it."""
    top = built.cutout.opens_celsius - celsius
    rise, seconds = top, 0.0
    for _ in range(int(off / step)):
        rise -= (
            step * built.watts_per_kelvin_n * max(rise, 0.0) ** built.exponent / built.body_joules_per_kelvin
        )
    while rise < top and seconds < 12 * 3600.0:
        given = built.watts_per_kelvin_n * max(rise, 0.0) ** built.exponent
        rise += step * (watts - given) / built.body_joules_per_kelvin
        seconds += step
    return seconds


class ColdRoom:
    """A room of its own under an invented cold spell; the heater may or may not be able to hold it."""

    def __init__(self, loss: float, seed: int = 1, mean_celsius: float = -2.0) -> None:
        floor = 16.0
        windows, air = 0.27 * loss, 0.3 * loss
        constants = room_from_floor(
            floor, "medium", windows, loss - windows - air, air / (0.34 * floor * 2.5)
        )
        self.body = RoomBody(constants, 17.0, 16.5, 17.0)
        self.weather = ColdSpell(seed, START, mean_celsius=mean_celsius)

    def __call__(self, steady: float) -> float:
        return self.body.air_celsius

    def live(self, seconds: float, steady: float, watts: float) -> None:
        """Let time pass with the heater's watts, a third of them radiant."""
        self.body.step(seconds, self.weather.outdoor_celsius(steady), 0.65 * watts, 0.35 * watts, 0.0, 0.0)


class Bench:
    """One heater under one Regulator. `air` is °C or a function of seconds; `trips` are the true openings."""

    def __init__(
        self,
        built: HeaterDesign,
        *,
        watts: float = 1500.0,
        meter: MeterTraits | None = None,
        seed: int = 1,
        air=17.0,
        tick: float = 10.0,
        heater: str = "",
        volts: float = 230.0,
        steady_mains: bool = False,
    ) -> None:
        toml = TOML.format(volts=volts, tick=int(tick), watts=watts, heater=heater)
        self.house = House.model_validate(tomllib.loads(toml))
        self.regulator = Regulator(self.house)
        self.mains = None if steady_mains else Mains(seed, volts)
        self.nominal, self.tick, self.air = volts, tick, air
        body = HeaterBody(built, selection=built.nearest_selection(watts, volts))
        self.meter = meter or MeterTraits(period_seconds=10.0, step_watts=1.0, lag_seconds=6.0)
        body.body_celsius = air(1000.0) if callable(air) else air
        self.plug = HeatedPlug(KEY, body, "study", self.meter, Random(seed))
        self.steady, self.skew = 1000.0, 0.0
        self.trip_times: list[float] = []
        self.ran: list[float] = []
        self.starts: list[tuple[float, float]] = []
        self._on_at: float | None = None
        self.result = None

    @property
    def facts(self) -> HeaterFacts:
        """What the Regulator has learned."""
        return self.regulator._memory.heaters[KEY].facts

    @property
    def trips(self) -> int:
        """True openings of the cut-out that broke a current: on the low setting it guards nothing."""
        return len(self.trip_times)

    def celsius(self) -> float:
        """The room's air now."""
        return self.air(self.steady) if callable(self.air) else self.air

    def mains_share(self, hours: float) -> float:
        """Mean power of a resistance over the last hours, over that at nominal volts."""
        if self.mains is None:
            return 1.0
        at = range(int(self.steady - 3600.0 * hours), int(self.steady), 60)
        return sum(self.mains.volts(second, 450.0) ** 2 for second in at) / len(at) / self.nominal**2

    def step(self) -> None:
        """One tick."""
        celsius = self.celsius()
        plugs = {KEY: self.plug.report()} if self.plug.news() else {}
        moment = Moment(START + timedelta(seconds=self.steady + self.skew), self.steady)
        outdoor = self.air.weather.outdoor_celsius(self.steady) if isinstance(self.air, ColdRoom) else -5.0
        seen = Observation(air={"study": Reading(round(celsius, 1))}, outdoor=outdoor, plugs=plugs)
        # The air is held, so it answers no heat: that interlock's rests are not what is measured here.
        notes = self.regulator._memory.heaters[KEY].notes
        notes["no-answer"] = {"answered_at": self.steady}
        self.result = self.regulator.step(moment, seen)
        order = self.result.orders[KEY]
        if order.retell:
            self._note_run(order.on)
            self.plug.tell(order.on, order.lapses - self.steady, self.steady)
        given = 0.0
        for _ in range(int(self.tick / INNER_SECONDS)):
            self._live(INNER_SECONDS, celsius)
            given += self.plug.given_watts * INNER_SECONDS / self.tick
        if isinstance(self.air, ColdRoom):
            self.air.live(self.tick, self.steady, given)

    def _note_run(self, on: bool) -> None:
        if on and not self.plug.relay_on:
            self._on_at = self.steady
            self.starts.append((self.steady, self.plug.drawn_joules))
        elif not on and self.plug.relay_on and self._on_at is not None:
            self.ran.append(self.steady - self._on_at)

    def _live(self, seconds: float, celsius: float) -> None:
        before = self.plug.heater.trips
        self.steady += seconds
        volts = self.mains.volts(self.steady, self.plug.drawn_watts) if self.mains else self.nominal
        self.plug.step(seconds, self.steady, volts, celsius)
        heater = self.plug.heater
        guarded = heater.design.guarded & set(heater.design.selections[heater.selection].elements)
        if heater.trips > before and guarded and self.plug.relay_on:
            self.trip_times.append(self.steady)

    def run(self, hours: float) -> Bench:
        """Let time pass."""
        end = self.steady + 3600.0 * hours
        while self.steady < end - 1e-6:
            self.step()
        return self

    def restart(self, down_seconds: float) -> Bench:
        """The daemon ends with every plug off and comes back on its memory, by way of JSON."""
        plain = json.loads(json.dumps(self.regulator.memory))
        self.plug.tell(False, 0.0, self.steady)
        end = self.steady + down_seconds
        while self.steady < end - 1e-6:
            self._live(min(10.0, end - self.steady), self.celsius())
        self.regulator = Regulator(self.house, memory=awaken(plain))
        self.plug.changed = True
        return self

    def delivered_watts(self, hours: float) -> float:
        """Mean power drawn over the whole cycles of the coming hours (over all of them, where it runs on), W."""
        at, before, first = self.steady, self.plug.drawn_joules, len(self.starts)
        self.run(hours)
        whole = self.starts[first:]
        if len(whole) > 2:
            return (whole[-1][1] - whole[0][1]) / (whole[-1][0] - whole[0][0])
        return (self.plug.drawn_joules - before) / (self.steady - at)
