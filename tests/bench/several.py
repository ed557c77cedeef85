"""Clicks of two heaters in one room, base and trim against both together: `python -m tests.bench.several`.

A simulated room of an invented house through a cold spell, each law, three seeds. Prints switchings a day, mean and
RMS distance from the target.
"""

from __future__ import annotations

import sys
import tomllib
from datetime import UTC, datetime
from unittest.mock import patch

from thermostatd.core.demand import several
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Reading
from thermostatd.rehearsal.house import SimulatedHouse

HOUSE = """
[house]
name = "Quay House"
timezone = "UTC"
[[room]]
name = "parlour"
sensor = {{ topic = "parlour/air" }}
control = "{control}"
usual = [{{ days = "daily", at = "00:00", celsius = 20 }}]
[[room.heater]]
name = "column"
kind = "oil-filled"
watts = 588
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
[[room.heater]]
name = "quick"
kind = "convector"
watts = 700
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
"""
TICK = 30.0


def days(control: str, seed: int, together: bool, count: int, toml: str = HOUSE) -> tuple[float, float, float]:
    """Switchings a day, mean and RMS distance from target, K, after a first day."""
    house = House.model_validate(tomllib.loads(toml.format(control=control)))
    start = datetime(2026, 1, 12, tzinfo=UTC)
    simulated = SimulatedHouse(house, seed=seed, start=start, start_celsius=19.0, inner_seconds=30.0)
    regulator, off, before = Regulator(house), [], 0
    with patch.object(several, "parts", (lambda *a: None) if together else several.parts):
        for n in range(int((count + 1) * 86400 / TICK)):
            moment = simulated.moment()
            result = regulator.step(moment, simulated.observation())
            for key, order in result.orders.items():
                if order.retell:
                    simulated.tell(key, order.on, order.lapses - moment.steady)
            room = result.rooms["parlour"]
            if n == int(86400 / TICK):
                before = sum(regulator.operations().values())
            if n >= 86400 / TICK and isinstance(room.air, Reading):
                off.append(room.air.celsius - room.target.celsius)
            simulated.advance(TICK)
    clicks = (sum(regulator.operations().values()) - before) / count
    return clicks, sum(off) / len(off), (sum(x * x for x in off) / len(off)) ** 0.5


def main(count: int = 4) -> None:
    """Print the table."""
    print("law, seed: switchings a day, mean, RMS from target | both together -> base and trim")
    for control in ("hysteresis", "proportional"):
        for seed in (3, 5, 8):
            one, two = (days(control, seed, together, count) for together in (True, False))
            print(f"{control} {seed}: {one[0]:.0f}/day {one[1]:+.2f} {one[2]:.2f} K -> "
                  f"{two[0]:.0f}/day {two[1]:+.2f} {two[2]:.2f} K")  # fmt: skip


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
