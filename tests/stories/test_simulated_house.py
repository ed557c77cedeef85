"""The Regulator in the simulated demo house, whose physics, meters and sensors nobody made for these tests."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.stories.always import hold
from thermostatd import AllOff, Regulator, load_house
from thermostatd.rehearsal.house import SimulatedHouse

DEMO = Path(__file__).parents[2] / "config" / "demo.toml"


def live(hours, seed=5, fault=None):
    """So many winter hours of the demo house; its last result, and all troubles that were told."""
    house = load_house(DEMO)
    simulated = SimulatedHouse(house, seed=seed, start=datetime(2026, 1, 12, 6, tzinfo=UTC))
    regulator, told, result = Regulator(house), [], None
    for n in range(int(hours * 360)):
        moment = simulated.moment()
        result = regulator.step(moment, simulated.observation())
        hold(house, regulator, result, moment.steady)
        told += [event.about for event in result.events if event.code == "trouble"]
        for key, order in result.orders.items():
            if order.retell:
                simulated.tell(key, order.on, order.lapses - moment.steady)
        if fault and n == 360:
            simulated.fault(*fault)
        if fault and n == 1440:
            regulator.do(moment, AllOff())
        simulated.advance(10.0)
    return house, result, told


def test_a_sound_house_is_warm_and_brings_no_trouble():
    """Lagging meters, stepping sensors, doors, sun and people raise no false alarm, and rooms come near target."""
    _, result, told = live(9)
    assert told == []
    assert all(abs(room.air.celsius - room.target.celsius) < 1.5 for room in result.rooms.values())


@pytest.mark.parametrize(("kind", "code"), [("contact_welded", "drawing-while-off"), ("fuse_gone", "drawing-nothing")])
def test_a_real_fault_is_found(kind, code):
    """A weld and a blown fuse of the first heater are told by their right names, and by no other."""
    house = load_house(DEMO)
    key = next(iter(house.heaters()))[0]
    _, _, told = live(5, fault=(key, kind))
    assert f"{key}/{code}" in told
    assert {about.rpartition("/")[2] for about in told} == {code}
