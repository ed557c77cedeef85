"""A story's rooms with known constants, heated by a Regulator a step a minute; the sensor lags, steps and is noisy.

Rules: the plant is the model stepped each minute with true constants; what the Regulator was told of them
may differ; everything random comes from a seed; rooms do not touch.
"""

import json
import tomllib
from datetime import UTC, datetime, timedelta

import numpy as np

from tests.physics.thermal.rooms import KNOWN, WATTS
from thermostatd import History, Moment, Observation, PlugReport, Reading, Regulator
from thermostatd.core.house import House
from thermostatd.physics.thermal.model import Constants, discrete

START = datetime(2026, 1, 12, tzinfo=UTC)
ROOM = """
[[room]]
name = "{name}"
sensor = {{ topic = "{name}/air" }}
control = "{control}"
usual = {usual}
{room}
[[room.heater]]
name = "column"
watts = 650
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
"""
ALWAYS_20 = '[{ days = "daily", at = "00:00", celsius = 20 }]'
NIGHTS_17 = '[{ days = "daily", at = "06:30", celsius = 20 }, { days = "daily", at = "22:00", celsius = 17 }]'


def house_of(*, control="predictive", usual=ALWAYS_20, room="", names=("study",)):
    """An invented house of such rooms."""
    text = '[house]\ntimezone = "UTC"\noutdoor = { topic = "yard" }\n'
    text += "".join(ROOM.format(name=name, control=control, usual=usual, room=room) for name in names)
    return House.model_validate(tomllib.loads(text))


def model_of(constants=KNOWN):
    """The model that a fit would have found, had it found these."""
    thermal = {
        "constants": constants.plain(),
        "step_kelvin": 0.1,
        "watts": WATTS,
        "profile": [],
        "state": None,
        "at": None,
    }
    return {"thermal": thermal}


class KnownRooms:
    """A house's rooms in time. `stuck` holds a contact by name; `leak` is W/K of an open window; `swap` two sensors."""

    def __init__(
        self,
        house,
        *,
        constants=KNOWN,
        model=KNOWN,
        seed=1,
        celsius=19.5,
        outdoor=-2.0,
        every=1,
        step=0.1,
        hour=0,
    ):
        self.house, self.outdoor, self.every, self.step_kelvin = house, outdoor, every, step
        self.names = [room.name for room in house.rooms]
        self.a, self.b = discrete(np.array([getattr(constants, n) for n in Constants.__slots__])[:8])
        self.air_capacity = constants.air_joules_per_kelvin
        self.states = {n: np.array([300.0, celsius, celsius - 1.0, celsius, 0.0, 0.0]) for n in self.names}
        self.rng = np.random.default_rng(seed)
        self.regulator, self.history = Regulator(house), History(house)
        if model is not None:
            self.regulator.adopt({name: model_of(model) for name in self.names})
        self.start = START + timedelta(hours=hour)
        self.minute, self.on, self.result = 0, dict.fromkeys(self.names, False), None
        self.stuck, self.leak, self.swap = {}, 0.0, False
        self.air = {n: [] for n in self.names}
        self.runs = {n: [] for n in self.names}

    def moment(self):
        """Now."""
        return Moment(self.start + timedelta(minutes=self.minute), 5000.0 + 60.0 * self.minute)

    def observation(self):
        """What sensors and plugs tell."""
        shown = {n: float(self.states[n][3] + self.rng.normal() * 0.03) for n in self.names}
        if self.swap:
            shown = dict(zip(self.names, [shown[n] for n in reversed(self.names)], strict=True))
        due = self.minute % self.every == 0
        air = {
            n: Reading(round(round(v / self.step_kelvin) * self.step_kelvin, 3))
            for n, v in shown.items()
            if due
        }
        plugs = {
            f"{n}/column": PlugReport(on=self.on[n], watts=WATTS * self.on[n], volts=230.0)
            for n in self.names
        }
        return Observation(air=air, outdoor=Reading(self.outdoor), plugs=plugs)

    def step(self):
        """One minute: decided, then lived."""
        moment, seen = self.moment(), self.observation()
        self.result = self.regulator.step(moment, seen)
        self.history.add(moment, seen, self.result)
        for n in self.names:
            self.on[n] = self.stuck.get(n, self.result.orders[f"{n}/column"].on)
            state = self.states[n]
            state = self.a @ state + self.b @ np.array([WATTS * self.on[n], self.outdoor, state[1], 0.0])
            state[1] += self.leak * 60.0 / self.air_capacity * (self.outdoor - state[1])
            self.states[n] = state
            self.air[n].append(float(state[1]))
            self.runs[n].append(self.on[n])
        self.minute += 1

    def run(self, hours):
        """Let hours pass."""
        for _ in range(round(hours * 60)):
            self.step()
        return self

    def restart(self):
        """Another Regulator goes on from the memory, through JSON."""
        self.regulator = Regulator(self.house, json.loads(json.dumps(self.regulator.memory)))

    def switches(self, since=0, until=None, name="study"):
        """Contacts moved between two minutes."""
        return int(np.abs(np.diff(np.array(self.runs[name][since:until], dtype=int))).sum())

    def off(self, since=0, name="study", target=20.0):
        """RMS distance of true air from a target since a minute, K."""
        return float(np.sqrt(np.mean((np.array(self.air[name][since:]) - target) ** 2)))

    def ran_away(self, name="study", target=20.0):
        """Whether true air was 1.5 K over target for half an hour with heat in it."""
        over = np.array(self.air[name]) > target + 1.5
        heated = np.convolve(np.array(self.runs[name], dtype=float), np.ones(30))[: len(over)] > 0
        return bool((np.convolve((over & heated).astype(float), np.ones(30)) >= 30.0).any())
