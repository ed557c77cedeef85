"""The invented houses in which faults are ordered: one of column heaters on three settings, one of other kinds.

Bodies are up to 30 % off the usual.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from operator import itemgetter
from random import Random

from tests.bench.diagnosis.mains import NOMINAL_VOLTS, recorded_volts
from thermostatd import Regulator
from thermostatd.core.house import House
from thermostatd.physics.heater_kinds import heater_design
from thermostatd.physics.heaters import HeaterBody
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.nature import RecordedMains
from thermostatd.rehearsal.plugs import MeterTraits

START = datetime(2026, 1, 12, 6, tzinfo=UTC)
SETTINGS = (600.0, 800.0, 1400.0)
SETTINGS_TOLD = "settings_watts = [600, 800, 1400]"
WATTS = {"tall": 1400.0, "low": 600.0, "mid": 800.0}
QUICK = {"panel": 800.0, "convector": 1000.0, "infrared": 600.0}
"""Heaters of other kinds, which stand their label, each in the room of that name."""
QUICK_SETTINGS = {"convector": (500.0, 1000.0)}
"""A selector of which the house's file tells nothing, as most do not."""
HEAD = '[house]\ntimezone = "UTC"\nmains_volts = 230\noutdoor = { topic = "yard" }\n'
ROOM = """
[[room]]
name = "{name}"
sensor = {{ topic = "{name}/air" }}
usual = [{{ at = "06:30", celsius = 20.5 }}, {{ at = "22:00", celsius = 17 }}]
"""
HEATER = """
[[room.heater]]
name = "h"
watts = {watts}
{told}
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
"""


@dataclass(frozen=True, slots=True)
class Meter:
    """A kind of meter: its step, W, its period, s, and whether it tells volts; or one that speaks on change."""

    step_watts: float
    period_seconds: float
    volts: bool
    change_share: float = 0.0

    @property
    def name(self) -> str:
        """As printed."""
        return (
            f"{self.step_watts:.0f} W, {self.period_seconds:.0f} s, {'volts' if self.volts else 'no volts'}"
            f"{', on change' if self.change_share else ''}"
        )

    @property
    def traits(self) -> MeterTraits:
        """As the rehearsal has it."""
        return MeterTraits(
            self.period_seconds,
            self.step_watts,
            6.0,
            tells_volts=self.volts,
            tells_warm=False,
            change_share=self.change_share,
        )


METERS = (
    *(
        Meter(step, period, volts)
        for period in (10.0, 300.0)
        for step in (1.0, 10.0)
        for volts in (True, False)
    ),
    Meter(1.0, 10.0, True, 0.05),
    Meter(1.0, 10.0, False, 0.05),
)


class Home:
    """One simulated house with its Regulator, ticking together. Nothing of the loop is replaced."""

    def __init__(self, meter: Meter, seed: int, days: int, quick: bool = False) -> None:
        self.heaters = QUICK if quick else WATTS
        rooms = "".join(
            ROOM.format(name=name) + HEATER.format(watts=watts, told=f'kind = "{name}"' if quick else SETTINGS_TOLD)
            for name, watts in self.heaters.items()
        )
        self.house = House.model_validate(tomllib.loads(HEAD + rooms + ROOM.format(name="landing")))
        self.meter = meter
        self.tick_seconds = self.house.house.tick
        self.keys = [f"{name}/h" for name in self.heaters]
        self.simulated = SimulatedHouse(
            self.house, seed=seed, start=START, meters=dict.fromkeys(self.keys, meter.traits)
        )
        self.simulated.mains = RecordedMains(recorded_volts(days, seed), 230.0, NOMINAL_VOLTS)
        self.rng = Random(f"diagnosis/{seed}")
        for key in self.keys:
            self._vary(key)
        self.regulator = Regulator(self.house)
        self.result = None

    def _vary(self, key: str) -> None:
        """Its own body: store and output anywhere within 30 % of the usual."""
        name = key.partition("/")[0]
        plug, watts = self.simulated.plugs[key], self.heaters[name]
        capacity, output = self.rng.uniform(0.7, 1.3), self.rng.uniform(0.7, 1.3)
        kind, settings = (name, QUICK_SETTINGS.get(name, ())) if name in QUICK else ("oil-filled", SETTINGS)
        design = heater_design(kind, watts, 230.0, settings, None, capacity, output)
        selection = design.nearest_selection(watts, 230.0)
        plug.heater = HeaterBody(design, selection, plug.heater.body_celsius)
        plug.home_selection = selection

    @property
    def hours(self) -> float:
        """Hours lived."""
        return self.simulated.steady / 3600.0

    def tick(self) -> list[str]:
        """One tick; gives the ids of the troubles that were told in it."""
        told = self.decide()
        self.advance()
        return told

    def decide(self) -> list[str]:
        """The tick's orders, given to the plugs; the ids of the troubles that were told."""
        moment = self.simulated.moment()
        result = self.result = self.regulator.step(moment, self.simulated.observation())
        for key, order in result.orders.items():
            if order.retell:
                self.simulated.tell(key, order.on, order.lapses - moment.steady)
        return [event.about for event in result.events if event.code == "trouble"]

    def advance(self, midway: Sequence[tuple[float, Callable[[], None]]] = ()) -> None:
        """Lets the tick pass; `midway` happens so many seconds after its orders."""
        gone = 0.0
        for seconds, happens in sorted(midway, key=itemgetter(0)):
            self.simulated.advance(seconds - gone)
            gone = seconds
            happens()
        self.simulated.advance(self.tick_seconds - gone)

    def standing(self, key: str) -> list[str]:
        """The codes of the troubles that this heater has now."""
        return [t.code for t in self.result.troubles if t.id == f"{key}/{t.code}"]
