"""A run in virtual time: what is told, and what is summed up."""

from dataclasses import dataclass

import pytest

from tests.rehearsal.homes import alive, home
from thermostatd.core.regulator import Regulator
from thermostatd.rehearsal.run import run


@dataclass
class Order:
    on: bool
    lapses: float


@dataclass
class Target:
    celsius: float


@dataclass
class RoomPart:
    target: Target


@dataclass
class Result:
    orders: dict
    rooms: dict


class Relay:
    """A plain relay per room on the sensor's word, as the smallest thing that steps like the regulator."""

    def __init__(self, celsius=20.0, band=0.2):
        self.celsius, self.band, self.on = celsius, band, {}

    def step(self, moment, observation):
        for room, reading in observation.air.items():
            if abs(reading.celsius - self.celsius) > self.band:
                self.on[room] = reading.celsius < self.celsius
        orders = {f"{room}/h": Order(on, moment.steady + 900) for room, on in self.on.items()}
        return Result(orders, {f"r{n}": RoomPart(Target(self.celsius)) for n in range(4)})


def test_a_relay_holds_the_rooms_and_the_summary_says_so():
    """Rooms stay near the target, some clicks a day, with the energy that the plugs drew."""
    house = home(watts=(650, 650, 650, 650))
    simulated = alive(house, start_celsius=20.0)
    summary = run(house, Relay(), simulated, hours=24, tick_seconds=30, skip_hours=6)
    assert summary.seconds == pytest.approx(18 * 3600)
    for room in summary.rooms.values():
        assert room.rms_kelvin < 1.0
        assert 4 < room.switches_per_day < 200
        assert room.cutout_trips == 0
    drawn = sum(plug.drawn_joules for plug in simulated.plugs.values()) / 3.6e6
    assert 0 < summary.kwh < drawn


def test_every_tick_is_shown():
    """`on_tick` sees each moment, what came in and what was decided."""
    house, seen = home(), []
    run(house, Relay(), alive(house), hours=1, tick_seconds=60, on_tick=lambda *what: seen.append(what))
    assert len(seen) == 60
    assert [moment.steady for moment, *_ in seen] == pytest.approx([60.0 * n for n in range(60)])


def test_a_dead_regulator_ends_in_off():
    """Orders that are not renewed lapse in the plugs."""
    house = home()
    simulated = alive(house, start_celsius=15.0)
    run(house, Relay(), simulated, hours=1, tick_seconds=60)
    assert simulated.plugs["r0/h"].relay_on
    simulated.advance(900)
    assert not any(plug.relay_on for plug in simulated.plugs.values())


def test_impossible_runs_are_refused():
    """No tick, or nothing to judge, is a ValueError."""
    house = home()
    with pytest.raises(ValueError, match="tick"):
        run(house, Relay(), alive(house), hours=1, tick_seconds=0)


def test_the_real_regulator_heats_the_simulated_house():
    """With the daemon's own Regulator, cold rooms come near their target and nothing is left on after it."""
    allowed = ["awake", "asleep", "away"]
    house = home(watts=(650, 650), usual=[{"at": "00:00", "celsius": 20}], may_run=allowed)
    simulated = alive(house, start_celsius=18.0)
    summary = run(house, Regulator(house), simulated, hours=12, tick_seconds=30, skip_hours=8)
    for name, room in summary.rooms.items():
        assert room.rms_kelvin < 1.2, name
        assert room.kwh > 0
    simulated.advance(3600)
    assert not any(plug.relay_on for plug in simulated.plugs.values())
