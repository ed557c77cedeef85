"""Comfort and radiant heat against standards and derived figures."""

import pytest

from thermostatd.physics import comfort


@pytest.mark.parametrize(("celsius", "vote", "percent"), [(22, -0.75, 17), (27, 0.77, 17)])
def test_pmv_and_ppd(celsius, vote, percent):
    """0.1 m/s, 60 %, 1.2 met, 0.5 clo at 22 and 27 °C (ISO 7730 table D.1, from memory)."""
    found = comfort.pmv(celsius, celsius, 0.1, 60, 1.2, 0.5)
    assert found == pytest.approx(vote, abs=0.01)
    assert comfort.ppd_percent(found) == pytest.approx(percent, abs=0.5)


def test_nobody_pleases_everybody():
    """At a vote of zero five per cent are dissatisfied (ISO 7730, from memory)."""
    assert comfort.ppd_percent(0) == pytest.approx(5)


@pytest.mark.parametrize(("speed", "celsius"), [(0.1, 22.0), (0.2, 21.657)])
def test_operative_temperature(speed, celsius):
    """20 °C air, 24 °C radiant (CIBSE Guide A / ISO 7726, seen)."""
    assert comfort.operative_celsius(20, 24, speed) == pytest.approx(celsius, abs=0.0005)


def test_damp_surfaces():
    """20 °C, 50 %: dew point 9.3, 80 % at 12.6 °C, f_Rsi 0.705 at −5 °C (EN ISO 13788, DIN 4108-2, seen)."""
    assert comfort.dew_point_celsius(20, 50) == pytest.approx(9.3, abs=0.05)
    surface = comfort.mould_surface_celsius(20, 50)
    assert surface == pytest.approx(12.6, abs=0.05)
    assert comfort.surface_factor(surface, 20, -5) == pytest.approx(0.705, abs=0.0005)


def test_radiant_sources():
    """500 W at 2 m: 39.8 W/m² on a panel's axis, 9.95 from a point (derived)."""
    assert comfort.panel_on_axis(500, 2) == pytest.approx(39.8, abs=0.05)
    assert comfort.point_source(500, 2) == pytest.approx(9.95, abs=0.005)


def test_radiant_temperature_of_a_small_sphere():
    """100 W/m² in an 18 °C room: mean radiant 22.37 °C, operative +2.2 K (derived)."""
    radiant = comfort.radiant_with_source(18, 100)
    assert radiant == pytest.approx(22.37, abs=0.005)
    assert comfort.operative_celsius(18, radiant) - 18 == pytest.approx(2.2, abs=0.05)


def test_drift_limits():
    """1.1, 1.7, 2.2, 2.8, 3.3 K in 0.25, 0.5, 1, 2, 4 h; cycles 1.1 K (ASHRAE 55, from memory)."""
    ramp = [(hour / 60, 20 + 2.0 * hour / 60) for hour in range(0, 301)]
    found = comfort.largest_drifts(ramp)
    assert [(hours, limit) for hours, _, limit in found] == [
        (0.25, 1.1),
        (0.5, 1.7),
        (1, 2.2),
        (2, 2.8),
        (4, 3.3),
    ]
    assert [change for _, change, _ in found] == pytest.approx([0.5, 1, 2, 4, 8])
    assert comfort.CYCLE_LIMIT_KELVIN == 1.1


def test_control_accuracy():
    """Bias and half swing are judged apart (idea of EN 15500-1; limits second-hand)."""
    found = comfort.control_accuracy([19.8, 20.2, 20.6], 20.0)
    assert (found.bias_kelvin, found.half_swing_kelvin) == pytest.approx((0.2, 0.4))


def test_lowest_well_balanced_temperature():
    """18 °C is the lowest "safe and well-balanced" indoor temperature (WHO 2018, second-hand)."""
    assert comfort.LOWEST_WELL_BALANCED_CELSIUS == 18.0
