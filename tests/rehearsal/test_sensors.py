"""Sensors of the rehearsal: lag, steps, report by period or on change, and their faults."""

import math
from random import Random

import pytest

from tests.rehearsal.homes import PLAIN_SENSOR, alive, home
from thermostatd.core.house import House
from thermostatd.rehearsal import SensorTraits, SimulatedHouse
from thermostatd.rehearsal.sensors import RoomSensor


def readings(house, room, seconds, step=10):
    """All new readings of a room in some seconds."""
    found = []
    for _ in range(int(seconds / step)):
        house.advance(step)
        news = house.air_reading(room)
        if news is not None:
            found.append(news)
    return found


def test_a_sensor_speaks_in_steps_of_a_tenth():
    """Every reading is a whole number of steps, stamped with the second it was taken."""
    house = alive(sensors={"r0": SensorTraits(noise_kelvin=0.03, period_seconds=60)})
    for reading in readings(house, "r0", 3600):
        assert reading.celsius * 10 == pytest.approx(round(reading.celsius * 10), abs=1e-6)
        assert 0 <= reading.at <= house.steady


def test_a_periodic_sensor_reports_by_its_period():
    """At 60 s an hour brings sixty readings."""
    assert len(readings(alive(), "r0", 3600)) == 60


def test_a_sensor_lags_behind_the_air():
    """After a jump of the air it has come 63 % of the way in one lag."""
    sensor = RoomSensor(PLAIN_SENSOR, Random(1), 18.0)
    for _ in range(30):
        sensor.feel(10.0, 20.0)
    assert sensor.felt_celsius == pytest.approx(18 + 2 * (1 - math.exp(-1)), abs=0.02)


def test_a_sensor_on_change_is_silent_while_nothing_moves():
    """It reports a step when it comes, and otherwise only its heartbeat."""
    traits = SensorTraits(noise_kelvin=0.0, period_seconds=10, on_change=True, heartbeat_seconds=600)
    sensor, heard = RoomSensor(traits, Random(1), 20.0), []
    for second in range(0, 3600, 10):
        sensor.look(float(second))
        heard.append(sensor.news())
    assert len([one for one in heard if one]) == 6
    sensor.felt_celsius = 20.15
    sensor.look(3600.0)
    assert sensor.news() == (20.1, 3600.0) or sensor.news() == (20.2, 3600.0)


def test_a_silent_sensor_brings_nothing_until_mended():
    """No news while silent; news again afterwards."""
    house = alive()
    house.fault("r0", "silent")
    assert readings(house, "r0", 1800) == []
    house.mend("r0")
    assert readings(house, "r0", 120)


def test_a_stuck_sensor_repeats_itself_while_the_air_moves():
    """It goes on reporting one value however the room warms."""
    house = alive()
    house.tell("r0/h", True, 1e6)
    before = readings(house, "r0", 120)[-1].celsius
    house.fault("r0", "stuck")
    house.advance(3 * 3600)
    later = {reading.celsius for reading in readings(house, "r0", 600)}
    assert later == {before}
    assert house.true_air("r0") > before + 1


@pytest.mark.parametrize("lie", [-127.0, 85.0, float("nan")])
def test_a_lying_sensor_says_what_it_was_told_to(lie):
    """Any value can be put in its mouth, NaN too."""
    house = alive()
    house.fault("r0", "value", x=lie)
    assert readings(house, "r0", 120)[-1].celsius == pytest.approx(lie, nan_ok=True)


def test_the_outdoor_sensor_fails_like_any_other():
    """Its faults are ordered under the name "outdoor"."""
    house = alive()
    house.fault("outdoor", "silent")
    house.advance(3600)
    assert house.outdoor_reading() is None
    house.mend("outdoor")
    house.advance(300)
    assert house.outdoor_reading() is not None


def test_several_sensors_give_their_median():
    """Of three sensors one lying does not show."""
    table = {"room": [{"name": "den", "sensors": [{"topic": f"s/{n}"} for n in range(3)]}]}
    house = SimulatedHouse(
        House.model_validate(table),
        seed=1,
        start=alive().start,
        start_celsius=18.0,
        sensors={"den": PLAIN_SENSOR},
    )
    house.fault("den", "value", x=85.0, sensor=1)
    house.advance(130)
    assert house.air_reading("den").celsius < 20


def test_an_opened_window_cools_the_room_fast():
    """Air falls by more than two kelvins in half an hour, and recovers when closed."""
    house = alive(start_celsius=20.0)
    house.advance(600)
    before = house.true_air("r0")
    house.fault("r0", "window_open")
    house.advance(1800)
    opened = house.true_air("r0")
    assert opened < before - 2
    house.mend("r0")
    house.advance(1800)
    assert house.true_air("r0") > opened


def test_humidity_and_battery_are_told_where_the_file_asks():
    """Rooms with a humidity topic and a battery bring both; others neither."""
    rooms = [
        {"name": "a", "sensor": {"topic": "a", "battery": {"topic": "a/b"}}, "humidity": {"topic": "a/h"}},
        {"name": "b", "sensor": {"topic": "b"}},
    ]
    house = SimulatedHouse(House.model_validate({"room": rooms}), seed=2, start=alive(home()).start)
    house.fault("a", "battery_low", percent=5)
    house.advance(700)
    news = house.observation()
    assert 15 < news.humidity_percent["a"] < 70
    assert news.battery_percent["a"] == pytest.approx(5, abs=0.1)
    assert "b" not in news.humidity_percent
    assert "b" not in news.battery_percent
