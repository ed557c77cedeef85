"""Base and trim under the predictive law: an oil-filled heater carries, a convector trims, by the room's model."""

import tomllib
from datetime import timedelta

import numpy as np

from tests.physics.thermal.rooms import KNOWN, values
from tests.stories.known_room import START, model_of
from thermostatd import Moment, Observation, PlugReport, Reading, Regulator
from thermostatd.core.house import House
from thermostatd.physics.thermal.model import discrete

HEATERS = {"study/column": 400.0, "study/quick": 400.0}
TOML = """
[house]
timezone = "UTC"
outdoor = { topic = "yard" }
[[room]]
name = "study"
sensor = { topic = "study/air" }
control = "predictive"
usual = [{ days = "daily", at = "00:00", celsius = 20 }]
[[room.heater]]
name = "column"
kind = "oil-filled"
watts = 400
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
[[room.heater]]
name = "quick"
kind = "convector"
watts = 400
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
"""


class Known:
    """A room with known constants and two heaters."""

    def __init__(self, outdoor):
        self.outdoor, self.minute = outdoor, 0
        self.a, self.b = discrete(values(KNOWN)[:8])
        self.state = np.array([300.0, 19.5, 18.5, 19.5, 0.0, 0.0])
        self.rng = np.random.default_rng(1)
        self.regulator = Regulator(House.model_validate(tomllib.loads(TOML)))
        model = model_of()
        model["thermal"]["watts"] = 800.0
        self.regulator.adopt({"study": model})
        self.on, self.air, self.runs = dict.fromkeys(HEATERS, False), [], []

    def step(self):
        """One minute."""
        told = Reading(round(float(self.state[3] + self.rng.normal() * 0.03), 1))
        plugs = {
            key: PlugReport(on=self.on[key], watts=w * self.on[key], volts=230.0)
            for key, w in HEATERS.items()
        }
        seen = Observation(air={"study": told}, outdoor=Reading(self.outdoor), plugs=plugs)
        moment = Moment(START + timedelta(minutes=self.minute), 5000.0 + 60.0 * self.minute)
        result = self.regulator.step(moment, seen)
        self.on = {key: result.orders[key].on for key in HEATERS}
        power = sum(watts for key, watts in HEATERS.items() if self.on[key])
        self.state = self.a @ self.state + self.b @ np.array([power, self.outdoor, self.state[1], 0.0])
        self.air.append(float(self.state[1]))
        self.runs.append([self.on[key] for key in HEATERS])
        self.minute += 1

    def run(self, hours):
        """Let hours pass."""
        for _ in range(round(60 * hours)):
            self.step()
        return self

    def clicks(self, since):
        """Switchings of each heater."""
        return np.abs(np.diff(np.array(self.runs[since:], dtype=int), axis=0)).sum(axis=0)


def test_the_column_carries_and_the_quick_heater_trims_by_the_model():
    """The room holds its target within a quarter kelvin, and the heavy heater hardly clicks."""
    room = Known(outdoor=-6.0).run(18)
    since = 6 * 60
    off = np.array(room.air[since:]) - 20.0
    column, quick = room.clicks(since)
    assert float(np.sqrt(np.mean(off**2))) < 0.25
    assert abs(float(np.mean(off))) < 0.1
    assert column <= 4 < quick
