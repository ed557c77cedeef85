"""Building physics against published and derived figures."""

import pytest

from thermostatd.physics.rooms import (
    CLASSES,
    HourlyRoom,
    RoomBody,
    RoomConstants,
    celsius_after,
    degree_day_kwh,
    heat_load_watts,
    seconds_to_reach,
)

# ISO 13790:2008 Annex C, the worked cases of an academic implementation's published test (seen).
ROOM = HourlyRoom(
    surface_square_metres=142.38,
    mass_square_metres=85.75,
    mass_joules_per_kelvin=165_000 * 34.3,
    windows_watts_per_kelvin=14.85,
    opaque_watts_per_kelvin=0.338,
    ventilation_watts_per_kelvin=70.887,
)
GAINS = {"internal_watts": 10.0, "solar_watts": 2000.0}


def test_hourly_heat_to_hold_a_set_point():
    """Outdoor 10, mass 20, set 20 °C: 328.09 W, mass node 20.46 °C (ISO 13790 worked case, seen)."""
    hour = ROOM.hour(20, 10, 20, **GAINS)
    assert hour.heat_watts == pytest.approx(328.09, abs=0.01)
    assert hour.mass_mean_celsius == pytest.approx(20.46, abs=0.005)
    assert hour.air_celsius == pytest.approx(20.0, abs=1e-9)


def test_hourly_limited_heater():
    """Outdoor 5, mass 19, heater held to 411.6 W: mass node 19.39, air 18.35 °C (worked case, seen)."""
    hour = ROOM.hour(19, 5, 20, limit_watts=411.6, **GAINS)
    assert hour.heat_watts == pytest.approx(411.6)
    assert hour.mass_mean_celsius == pytest.approx(19.39, abs=0.005)
    assert hour.air_celsius == pytest.approx(18.35, abs=0.005)


def test_hourly_no_heat_needed():
    """Outdoor 10, mass 22, set 20 °C: no heat, mass node 22.33 °C (worked case, seen)."""
    hour = ROOM.hour(22, 10, 20, **GAINS)
    assert hour.heat_watts == 0
    assert hour.mass_mean_celsius == pytest.approx(22.33, abs=0.005)


def test_mass_node_of_the_cases_is_the_mean_of_the_step():
    """The published mass figure is Crank–Nicolson's mean of start and end (ISO 13790 C.9, derived)."""
    hour = ROOM.hour(20, 10, 20, **GAINS)
    assert hour.mass_mean_celsius == pytest.approx((20 + hour.mass_end_celsius) / 2, abs=1e-12)


@pytest.mark.parametrize(
    ("weight", "capacity", "share"),
    [
        ("very light", 80e3, 2.5),
        ("light", 110e3, 2.5),
        ("medium", 165e3, 2.5),
        ("heavy", 260e3, 3.0),
        ("very heavy", 370e3, 3.5),
    ],
)
def test_building_classes(weight, capacity, share):
    """Heat capacity and mass area of the five classes (ISO 13790 12.3.1.2, seen)."""
    assert CLASSES[weight] == (capacity, share)
    room = HourlyRoom.of_class(20.0, weight, 10.0, 5.0, 8.0)
    assert room.surface_square_metres == pytest.approx(90.0)
    assert room.mass_joules_per_kelvin == pytest.approx(20 * capacity)


@pytest.mark.parametrize(("mass", "outdoor", "heat"), [(20, 10, 328.09), (19, 5, 411.6), (22, 10, 0.0)])
def test_the_rehearsals_room_against_the_hourly_method(mass, outdoor, heat):
    """Stepped by the second with the same constants, the rehearsal's room ends within 0.03 K of ISO 13790."""
    hourly = ROOM.free(mass, outdoor, 10, 2000, heat)
    to_air, to_surface, to_mass = ROOM.gains(10, 2000)
    body = RoomBody(RoomConstants.of(ROOM, 20_000.0), hourly.air_celsius, mass)
    total = 0.0
    for _ in range(720):
        body.step(5.0, outdoor, to_air + heat, to_surface, to_mass)
        total += body.air_celsius
    assert body.mass_celsius == pytest.approx(hourly.mass_end_celsius, abs=0.03)
    assert total / 720 == pytest.approx(hourly.air_celsius, abs=0.03)


def test_design_heat_load():
    """ΣUA 6.55 W/K, 50 m³, n 0.5, Δθ 30 K: 451.5 W (EN 12831, from memory)."""
    assert heat_load_watts(6.55, 50, 0.5, 30) == pytest.approx(451.5)
    assert heat_load_watts(6.55, 50, 0.5, 30, 20, 11) == pytest.approx(671.5)


def test_first_order_room():
    """20→16 °C at τ 30 h, outdoor 0: 6.69 h; 16→20 °C towards 30: 10.09 h; 95 % at 2.996 τ (derived)."""
    tau = 30 * 3600
    assert seconds_to_reach(20, 16, 0, tau) / 3600 == pytest.approx(6.69, abs=0.005)
    assert seconds_to_reach(16, 20, 30, tau) / 3600 == pytest.approx(10.09, abs=0.005)
    assert seconds_to_reach(0, 95, 100, tau) / tau == pytest.approx(2.996, abs=0.0005)
    assert celsius_after(seconds_to_reach(20, 16, 0, tau), 20, 0, tau) == pytest.approx(16)


def test_degree_days():
    """100 W/K through 2000 K·d is 4800 kWh (derived)."""
    assert degree_day_kwh(100, 2000) == pytest.approx(4800)
