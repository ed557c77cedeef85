"""Wiring and wear against codes and published classes."""

import pytest

from thermostatd.physics import wiring


def test_continuous_share_of_a_breaker():
    """15 A × 120 V × 0.8 is 1440 W, 20 A 1920 W (NEC 210.23(A)(1), 210.20, seen)."""
    assert wiring.continuous_watts(15, 120) == pytest.approx(1440)
    assert wiring.continuous_watts(20, 120) == pytest.approx(1920)


def test_a_1500_watt_heater_is_over_a_15_amp_circuit():
    """1500 W at 120 V is over the long-load share of 15 A, within that of 20 A (NEC 210.23(A)(1), seen)."""
    assert not wiring.fits_circuit([1500], 120, 15, tolerance=0.0).fits
    assert wiring.fits_circuit([1500], 120, 20, tolerance=0.05).fits


def test_continuous_load():
    """A load of three hours or more is continuous (NEC article 100, seen)."""
    assert wiring.CONTINUOUS_HOURS == 3.0


def test_a_13_amp_plug_on_long_loads():
    """About 10 A for long on a BS 1363 plug: 2000 W fits, 3000 W does not (practitioners' advice, second-hand)."""
    assert wiring.fits_plug(2000, 230, wiring.BS1363_LONG_LOAD_AMPS).fits
    assert not wiring.fits_plug(3000, 230, wiring.BS1363_LONG_LOAD_AMPS).fits


def test_relay_years():
    """100 000 operations, 180 days a year: 3.86 years at 6 an hour, 7.72 at 3 (IEC 61810 class, second-hand)."""
    assert wiring.relay_years(100_000, 6, 180) == pytest.approx(3.86, abs=0.005)
    assert wiring.relay_years(100_000, 3, 180) == pytest.approx(7.72, abs=0.005)


def test_type_test_counts():
    """Thermostat 10 000, self-resetting 300, manual 30 operations (IEC 60335-1 clause 24, from memory)."""
    counts = (
        wiring.THERMOSTAT_OPERATIONS,
        wiring.SELF_RESETTING_OPERATIONS,
        wiring.MANUAL_RESET_OPERATIONS,
    )
    assert counts == (10_000, 300, 30)


def test_automatic_action_classes():
    """6k to 300k operations (IEC 60730-1, second-hand)."""
    assert wiring.AUTOMATIC_ACTION_CLASSES == (6_000, 10_000, 20_000, 30_000, 100_000, 200_000, 300_000)
