"""The simulated house: time, orders, balance, bounds, and that it is the same house each time."""

import time
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rehearsal.homes import START, alive, home
from thermostatd.rehearsal import SimulatedHouse


class StillWeather:
    """Weather that never changes."""

    def __init__(self, celsius, sun=0.0):
        self.celsius, self.sun = celsius, sun

    def outdoor_celsius(self, seconds):
        return self.celsius

    def sun_watts_per_square_metre(self, seconds):
        return self.sun


def test_the_same_seed_is_the_same_house():
    """Same file, seed and orders: the same observations, to the last digit; another seed is another house."""

    def lived(seed):
        house = alive(seed=seed, sensors={}, meters={})
        house.tell("r0/h", True, 5000)
        house.advance(7200)
        return repr(house.observation())

    assert lived(4) == lived(4)
    assert lived(4) != lived(5)


def test_both_clocks_go_together():
    """Steady seconds count from the start and the wall follows them."""
    house = alive()
    house.advance(90)
    house.advance(0.5)
    assert house.steady == pytest.approx(90.5)
    assert (house.moment().wall - START).total_seconds() == pytest.approx(90.5)
    assert house.moment().steady == house.steady


@pytest.mark.parametrize("seconds", [-1, float("nan"), float("inf")])
def test_time_goes_forward_only(seconds):
    """Negative, endless or unknown time is refused."""
    with pytest.raises(ValueError, match="forward"):
        alive().advance(seconds)


def test_a_start_without_zone_is_refused():
    """A naive start is an error that names the mend."""
    with pytest.raises(ValueError, match="time zone"):
        SimulatedHouse(home(), seed=1, start=datetime(2026, 1, 12))  # noqa: DTZ001


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.lists(st.tuples(st.integers(0, 3), st.booleans()), max_size=8))
def test_the_whole_houses_energy_balance_closes(seed, orders):
    """Rooms and bodies store what the mains, sun and people gave minus what outdoors took."""
    house = alive(seed=seed)
    stored, brought, lost = _stored(house), 0.0, 0.0
    for index, on in orders:
        house.tell(f"r{index}/h", on, 1000)
        for _ in range(60):
            house.advance(10)
            brought += 10 * sum(plug.drawn_watts for plug in house.plugs.values())
            brought += 10 * sum(place.people_watts + place.sun_watts for place in house.places.values())
            lost += 10 * sum(place.lost_watts for place in house.places.values())
    assert _stored(house) - stored == pytest.approx(brought - lost, abs=10.0, rel=1e-9)


def _stored(house):
    bodies = sum(plug.heater.stored_joules for plug in house.plugs.values())
    return bodies + sum(place.body.stored_joules for place in house.places.values())


def test_an_unheated_house_falls_towards_outdoors_and_never_past_it():
    """Without heat, sun and people, air falls steadily and stays between start and outdoors."""
    house = alive(weather=StillWeather(-5.0), start_celsius=18.0)
    for place in house.places.values():
        place.people_watts = 0.0
        place.live = lambda *_: None
    last = dict.fromkeys(house.places, 18.0)
    for _ in range(48):
        house.advance(3600)
        for name in house.places:
            assert -5.0 < house.true_air(name) <= last[name]
            last[name] = house.true_air(name)
    assert max(last.values()) < 6.0


def test_heat_stored_in_the_body_goes_on_warming():
    """After the plug opens the heater still gives heat: the air does not begin to fall at once."""
    house = alive(weather=StillWeather(0.0))
    house.tell("r3/h", True, 3600)
    house.advance(3600)
    assert house.plugs["r3/h"].drawn_watts > 600
    house.advance(300)
    assert house.plugs["r3/h"].drawn_watts == 0
    assert house.plugs["r3/h"].given_watts > 250


def test_open_doors_join_rooms():
    """Heat in one room reaches its neighbour, which has no heat of its own."""

    def neighbour(on):
        house = alive(weather=StillWeather(0.0))
        if on:
            house.tell("r0/h", True, 1e6)
        house.advance(12 * 3600)
        return house.true_air("r1")

    assert neighbour(True) > neighbour(False) + 0.2


def test_a_cold_spell_is_cold_and_swings():
    """A built-in week stays in the span of a cold week, with nights colder than afternoons."""
    weather = alive(seed=9).weather
    values = [weather.outdoor_celsius(900.0 * step) for step in range(7 * 96)]
    assert -12 < sum(values) / len(values) < 5
    assert min(values) > -20
    nights = [weather.outdoor_celsius(86400.0 * day + 6 * 3600) for day in range(7)]
    noons = [weather.outdoor_celsius(86400.0 * day + 15 * 3600) for day in range(7)]
    assert sum(noons) > sum(nights) + 7
    assert weather.sun_watts_per_square_metre(0.0) == 0
    assert weather.sun_watts_per_square_metre(12 * 3600.0) > 20


def test_the_mains_drifts_within_the_standards_tolerance():
    """The voltage moves by some volts in a day and stays within ±10 % (EN 50160)."""
    mains = alive().mains
    volts = [mains.volts(300.0 * step, 3000.0) for step in range(288)]
    assert max(volts) - min(volts) > 2
    assert min(volts) > 207
    assert max(volts) < 253


def test_rooms_can_be_held_warm_on_a_mild_winter_day():
    """Every invented room reaches 20 °C at 0 °C outdoors with its own heater, whatever the seed."""
    for seed in range(4):
        house = alive(seed=seed, weather=StillWeather(0.0), start_celsius=19.0)
        for key in house.plugs:
            house.tell(key, True, 1e6)
        house.advance(36 * 3600)
        assert all(house.true_air(room.name) > 20.0 for room in house.house.rooms)


def test_a_day_of_four_rooms_is_quick():
    """Four rooms and a spot live a day in under five processor seconds, 17 000 times life, on a slow machine."""
    house = alive()
    begun = time.process_time()
    house.advance(86400)
    assert time.process_time() - begun < 5.0


def test_an_unknown_heater_is_named():
    """Telling a heater that is not there names those that are."""
    with pytest.raises(KeyError, match="r0/h"):
        alive().tell("nowhere/h", True, 60)


def test_observations_hold_only_news():
    """A second look without time passing brings nothing; the first holds rooms, outdoors and plugs."""
    house = alive()
    house.advance(130)
    first = house.observation()
    assert set(first.air) == {"r0", "r1", "r2", "r3"}
    assert first.outdoor is not None
    assert set(first.plugs) == {"r0/h", "r1/h", "r2/h", "r3/h", "bench/p"}
    again = house.observation()
    assert (again.air, again.outdoor, again.plugs) == ({}, None, {})


def test_a_house_with_a_forecast_is_told_the_coming_day_once_an_hour():
    """What its own weather will do, to a tenth; a house without the key is told none."""
    table = {"name": "Invented", "timezone": "UTC", "forecast": {"topic": "hours"}}
    house, plain = alive(home(house=table)), alive()
    told = []
    for _ in range(61):
        told.append(house.observation().forecast)
        assert plain.observation().forecast == ()
        house.advance(120)
        plain.advance(120)
    assert [minute for minute, one in enumerate(told) if one] == [0, 30, 60]
    for minute in (0, 30, 60):
        ahead = [house.weather.outdoor_celsius(120.0 * minute + 3600.0 * hour) for hour in range(25)]
        assert told[minute] == pytest.approx(ahead, abs=0.051)


def test_sun_and_people_follow_the_houses_own_zone():
    """The same instant given in UTC or in the house's zone is the same day for the house."""
    house = home(house={"name": "Invented", "timezone": "Asia/Tokyo"})
    local = START.astimezone(ZoneInfo("Asia/Tokyo"))
    pair = [SimulatedHouse(house, seed=3, start=start) for start in (START, local)]
    for one in pair:
        one.advance(3 * 3600)
    assert pair[0].true_air("r0") == pair[1].true_air("r0")
    assert pair[0].weather.sun_watts_per_square_metre(3 * 3600.0) > 0, "noon in Tokyo"
    assert alive().weather.sun_watts_per_square_metre(3 * 3600.0) == 0, "night in UTC"


def test_the_air_is_shown_as_the_rooms_own_thermometer_is_calibrated():
    """Its true air and what its thermometer is off by for good; of several the mean."""
    house = SimulatedHouse(home(), seed=3, start=START, start_celsius=18.0)
    offs = [house.shown_air(room.name) - house.true_air(room.name) for room in house.house.rooms]
    traits = [house.sensors[room.name][0].traits.offset_kelvin for room in house.house.rooms]
    assert offs == pytest.approx(traits)
    assert any(abs(one) > 0.01 for one in offs)


def test_an_hour_of_the_house_is_an_hour_on_the_clock_when_summer_time_ends():
    """Berlin, 26 October 2025, by the IANA time zone database: 03:00 becomes 02:00."""
    start = datetime(2025, 10, 26, 1, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    house = SimulatedHouse(home(), seed=1, start=start)
    house.advance(2 * 3600.0)
    assert house.moment().wall - start.astimezone(UTC) == timedelta(hours=2)
    assert house.moment().wall.astimezone(start.tzinfo).hour == 2
