"""What one tick of the decision costs for 10, 100 and 1 000 rooms: the time of a room should not grow with the house.

Every room has its own reading and plug report in each step, and circuits grow with the rooms, so that nothing is idle.
"""

from __future__ import annotations

import gc
import time
from datetime import UTC, datetime, timedelta

from tests.bench.row import Row
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Moment, Observation, PlugReport

START = datetime(2026, 1, 12, 8, tzinfo=UTC)
TICK_SECONDS = 10.0
ROOMS_EACH_CIRCUIT = 3
MOST_GROWTH = 1.5
ROOM_STEPS = 1500
"""Rooms times steps of one measurement, so that each size works equally long."""


def measure() -> list[Row]:
    """The time of a room at 100 and at 1 000 rooms over that at 10; the best of three turns counts."""
    best = dict.fromkeys((10, 100, 1000), float("inf"))
    for _ in range(3):
        for count in best:
            best[count] = min(best[count], seconds_each_room(count))
    return [
        Row(
            f"Regulator.step, a room of {count:,} / a room of 10".replace(",", " "),
            best[count] / best[10],
            MOST_GROWTH,
            note=f"{1e6 * best[count]:.0f} / {1e6 * best[10]:.0f} us",
        )
        for count in (100, 1000)
    ]


def house_of(count: int) -> House:
    """An invented house: a heater a room, three rooms a circuit."""
    rooms = [
        {
            "name": f"r{index}",
            "sensor": {"topic": f"air/{index}"},
            "usual": [{"at": "07:30", "celsius": 20}, {"at": "22:00", "celsius": 16}],
            "heater": [
                {
                    "name": "h",
                    "watts": 600,
                    "circuit": f"c{index // ROOMS_EACH_CIRCUIT}",
                    "plug": {"kind": "simulated"},
                }
            ],
        }
        for index in range(count)
    ]
    circuits = [{"name": f"c{index}", "breaker_amps": 16} for index in range(-(-count // ROOMS_EACH_CIRCUIT))]
    return House.model_validate({"house": {"timezone": "UTC"}, "circuit": circuits, "room": rooms})


def seconds_each_room(count: int) -> float:
    """Seconds of one room in one step, after two steps that are not counted; half the rooms ask for heat."""
    regulator, on = Regulator(house_of(count)), {}
    steps = max(3, ROOM_STEPS // count)
    spent = 0.0
    gc.collect()
    for index in range(steps + 2):
        moment = Moment(START + timedelta(seconds=TICK_SECONDS * index), 1000.0 + TICK_SECONDS * index)
        seen = _seen(count, on)
        begun = time.process_time()
        result = regulator.step(moment, seen)
        spent += time.process_time() - begun if index >= 2 else 0.0
        on = {key: order.on for key, order in result.orders.items()}
    assert sum(on.values()) == count // 2, (
        "half the rooms should be heated: the bench measures the wrong thing"
    )
    return spent / steps / count


def _seen(count: int, on: dict[str, bool]) -> Observation:
    plugs = {
        f"r{index}/h": PlugReport(
            on=(told := on.get(f"r{index}/h", False)), watts=580.0 if told else 0.0, volts=230.0
        )
        for index in range(count)
    }
    return Observation(air={f"r{index}": 17.0 if index % 2 else 21.5 for index in range(count)}, plugs=plugs)
