"""Control's closed forms against derived and published figures."""

import pytest

from thermostatd.physics.rooms import (
    cycles_per_hour,
    most_cycles_per_hour,
    on_off_cycle,
    optimum_start,
    relay_oscillation,
    ripple_kelvin,
    simc_pi,
    start_weight,
)

ROOM = {
    "set_celsius": 20,
    "half_band_kelvin": 0.25,
    "outdoor_celsius": 0,
    "rise_kelvin": 30,
    "tau_seconds": 14_400,
}


def test_on_off_cycle():
    """±0.25 K at 20 °C, rise 30 K, τ 14 400 s: on 720.2 s, off 360.0 s, 3.333 cycles an hour (derived)."""
    cycle = on_off_cycle(**ROOM)
    assert cycle.on_seconds == pytest.approx(720.2, abs=0.1)
    assert cycle.off_seconds == pytest.approx(360.0, abs=0.1)
    assert cycle.cycles_per_hour == pytest.approx(3.333, abs=0.001)
    assert cycle.duty == pytest.approx(2 / 3, abs=0.001)


def test_on_off_cycle_with_dead_time():
    """With 300 s of dead time: 19.343 to 20.451 °C, on 1581 s, off 802 s, 1.510 an hour (derived)."""
    cycle = on_off_cycle(**ROOM, dead_seconds=300)
    assert cycle.lowest_celsius == pytest.approx(19.343, abs=0.001)
    assert cycle.highest_celsius == pytest.approx(20.451, abs=0.001)
    assert cycle.on_seconds == pytest.approx(1581, abs=0.5)
    assert cycle.off_seconds == pytest.approx(802, abs=0.5)
    assert cycle.cycles_per_hour == pytest.approx(1.510, abs=0.001)


def test_cycles_against_duty():
    """N = 4·N_max·x(1−x) with N_max = 5.0 an hour at ΔT 40 K (derived)."""
    most = most_cycles_per_hour(40, 0.25, 14_400)
    assert most == pytest.approx(5.0)
    assert [cycles_per_hour(x, most) for x in (0, 0.25, 0.5, 1)] == pytest.approx([0, 3.75, 5.0, 0])


def test_ideal_relay():
    """A ±1 relay round e^(−s)/(s+1): amplitude 0.63212, period 2.97976 (Åström–Hägglund, derived)."""
    assert relay_oscillation(1, 1, 1, 1) == pytest.approx((0.63212, 2.97976), abs=5e-6)


def test_simc():
    """k 1, τ 2.5, θ 1.47: Kc 0.850, τI 2.5 (Skogestad 2003, seen)."""
    assert simc_pi(1, 2.5, 1.47) == pytest.approx((0.850, 2.5), abs=0.0005)


def test_simc_on_a_room():
    """k 30 K, τ 14 400 s, θ 600 s: 0.40 per K, 4800 s (derived)."""
    assert simc_pi(30, 14_400, 600) == pytest.approx((0.40, 4800))


def test_time_proportional_ripple():
    """30 K, duty 0.5, cycle 900 s, τ 14 400 s: 0.4687 K (derived)."""
    assert ripple_kelvin(30, 0.5, 900, 14_400) == pytest.approx(0.4687, abs=0.00005)


def test_optimum_start():
    """8 h to occupancy: start at 2.910 h, lead 5.090 h, 18.151 °C (method NBSIR 83-2720, derived)."""
    start = optimum_start(20, 20, 0, 30, 30, 8)
    assert start.from_now_hours == pytest.approx(2.910, abs=0.0005)
    assert start.lead_hours == pytest.approx(5.090, abs=0.0005)
    assert start.celsius == pytest.approx(18.151, abs=0.0005)


def test_start_weighting():
    """w is 1, 0.0316 and 0.001 at 0, ½ and 1 (Seem, Armstrong & Hancock 1989, from memory)."""
    assert [start_weight(t, 15, 20) for t in (15, 17.5, 20)] == pytest.approx([1, 0.0316, 0.001], abs=0.0001)
