"""Wiring: what fits, at high mains, and clear answers to bad input."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.physics.wiring import (
    continuous_amps,
    draw,
    fits_circuit,
    fits_plug,
    heaters_that_fit,
    relay_years,
)


@given(st.floats(50, 4000), st.sampled_from([120.0, 230.0]), st.floats(0, 0.2))
def test_high_mains_draw_most(watts, volts, tolerance):
    """Watts go with the square of the voltage and amperes with the voltage itself."""
    found = draw(watts, volts, tolerance)
    assert found.low_watts <= found.watts <= found.high_watts
    assert found.high_watts == pytest.approx(found.high_amps * volts * (1 + tolerance))


@given(st.floats(100, 3000), st.floats(6, 40))
def test_as_many_heaters_fit_as_the_circuit_says(watts, breaker):
    """The number that fits does fit, and one more does not."""
    count = heaters_that_fit(watts, 230, breaker)
    if count:
        assert fits_circuit([watts] * count, 230, breaker, tolerance=0.0999).fits
    assert not fits_circuit([watts] * (count + 1), 230, breaker, tolerance=0.1001).fits


def test_the_sentence_names_both_amperes():
    """A refusal says what it takes, what is allowed and what to do."""
    sentence = fits_circuit([1500, 1500], 230, 16).sentence
    assert "14.3 A" in sentence
    assert "12.8 A" in sentence
    assert "lower setting" in sentence
    assert "stronger plug" in fits_plug(2500, 230, 10).sentence


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: draw(0, 230),
        lambda: draw(1500, -230),
        lambda: draw(1500, 230, 1.5),
        lambda: draw(float("nan"), 230),
        lambda: continuous_amps(0),
        lambda: continuous_amps(16, 1.2),
        lambda: fits_plug(1500, 230, 0),
        lambda: relay_years(100_000, 0, 180),
    ],
)
def test_impossible_wiring_is_refused(wrong):
    """0 W, negative volts, no breaker: a ValueError with words."""
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        wrong()
