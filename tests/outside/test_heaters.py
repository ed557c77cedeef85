"""Heaters against Ohm, EN 442 and the trade's common practice."""

import pytest

from thermostatd.physics.heater_kinds import heater_design, oil_filled
from thermostatd.physics.heaters import HeaterBody, joined_ohms, ohms_for, output_share, watts_for
from thermostatd.physics.wiring import draw


def test_ohm_at_230_volts():
    """2000 W at 230 V: 26.45 Ω, 8.70 A; 1620 W at 207 V, 2420 W at 253 V (Ohm; EN 50160 ±10 %)."""
    ohms = ohms_for(2000, 230)
    assert ohms == pytest.approx(26.45)
    assert (watts_for(ohms, 207), watts_for(ohms, 253)) == pytest.approx((1620, 2420))
    drawn = draw(2000, 230)
    assert (drawn.low_watts, drawn.high_watts) == pytest.approx((1620, 2420))
    assert drawn.amps == pytest.approx(8.70, abs=0.005)


def test_ohm_at_120_volts():
    """1500 W at 120 V: 9.6 Ω; 1353.75 W at 114 V, 1653.75 W at 126 V (Ohm; ANSI C84.1, from memory)."""
    assert ohms_for(1500, 120) == pytest.approx(9.6)
    drawn = draw(1500, 120, 0.05)
    assert (drawn.low_watts, drawn.high_watts) == pytest.approx((1353.75, 1653.75))


def test_series_is_a_quarter_of_parallel():
    """Two equal elements in series draw one quarter of what they draw in parallel (derived)."""
    pair = (50.0, 50.0)
    series, parallel = (watts_for(joined_ohms(pair, one), 230) for one in (True, False))
    assert series / parallel == pytest.approx(0.25)


def test_radiator_exponent():
    """Output at 60 K is 1.267 and at 30 K 0.515 of that at 50 K (EN 442, n = 1.3, seen)."""
    assert output_share(60) == pytest.approx(1.267, abs=0.0005)
    assert output_share(30) == pytest.approx(0.515, abs=0.0005)


def test_elements_at_120_volts():
    """23 Ω draws about 620 W, 40 Ω in series about 360 W (common practice, no published source)."""
    assert watts_for(23, 120) == pytest.approx(620, rel=0.02)
    assert watts_for(joined_ohms((23, 17), True), 120) == pytest.approx(360, rel=0.01)


def test_full_power_opens_the_cutout_after_about_ten_minutes():
    """A column heater on 1500 W trips near ten minutes, leaving 588 W (common practice, no published source)."""
    body = HeaterBody(oil_filled(), selection=2)
    seconds = 0
    while not body.cutout_open:
        assert body.step(10, 230, True, 20).drawn == pytest.approx(1500)
        seconds += 10
    assert 540 <= seconds <= 660
    assert body.step(10, 230, True, 20).drawn == pytest.approx(588)


def test_a_1500_watt_column_sheds_about_600_for_long():
    """Left on its full setting for eight hours it gives about 600 W (common practice, no published source)."""
    body = HeaterBody(oil_filled(), selection=2)
    body.step(3600, 230, True, 20)
    assert body.step(7 * 3600, 230, True, 20).given == pytest.approx(600, rel=0.05)
    assert body.design.sustained_watts() == pytest.approx(600, rel=0.08)


@pytest.mark.parametrize("watts", [600, 800, 1400])
def test_settings_near_600_800_1400(watts):
    """Settings of 600, 800 and 1400 W come from two elements (common practice, no published source)."""
    design = heater_design("oil-filled", watts, 230, (600, 800, 1400))
    assert len(design.element_ohms) == 2
    assert design.selection_watts(design.nearest_selection(watts, 230), 230) == pytest.approx(watts)
