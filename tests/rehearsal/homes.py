"""Invented houses and small helpers for the rehearsal's tests."""

from datetime import UTC, datetime

from thermostatd.core.house import House
from thermostatd.rehearsal import MeterTraits, SensorTraits, SimulatedHouse

START = datetime(2026, 1, 12, tzinfo=UTC)
PLAIN_METER = MeterTraits(period_seconds=10.0, step_watts=1.0, lag_seconds=6.0)
PLAIN_SENSOR = SensorTraits(lag_seconds=300.0, noise_kelvin=0.0, period_seconds=60.0)
SIMULATED = {"kind": "simulated"}


def home(watts=(600, 1500, 800, 650), settings=(), usual=(), may_run=("awake",), **tables):
    """An invented house of simulated plugs: rooms r0, r1, ... with one heater `h` each, and a spot."""
    rooms = [
        {
            "name": f"r{index}",
            "usual": usual,
            "sensor": {"topic": f"air/{index}"},
            "heater": [
                {"name": "h", "watts": one, "settings_watts": settings, "may_run": may_run, "plug": SIMULATED}
            ],
        }
        for index, one in enumerate(watts)
    ]
    spot = {"name": "bench", "heater": {"name": "p", "kind": "infrared", "watts": 900, "plug": SIMULATED}}
    table = {"name": "Invented", "timezone": "UTC", "outdoor": {"topic": "yard"}}
    return House.model_validate({"house": table, "room": rooms, "spot": [spot]} | tables)


def alive(house=None, seed=1, **changes):
    """A simulated house with plain meters and sensors, unless told otherwise."""
    house = house or home()
    changes.setdefault("meters", {key: PLAIN_METER for key, _, _ in house.heaters()})
    changes.setdefault("sensors", {room.name: PLAIN_SENSOR for room in house.rooms})
    return SimulatedHouse(house, seed=seed, start=START, **changes)
