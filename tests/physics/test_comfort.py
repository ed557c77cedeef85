"""Comfort: inverses, monotony, and clear refusals."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.physics import comfort


@given(st.floats(-30, 60))
def test_saturation_is_undone(celsius):
    """The temperature of a saturation pressure is where that pressure came from."""
    back = comfort.celsius_of_saturation(comfort.saturation_pascals(celsius))
    assert back == pytest.approx(celsius, abs=1e-6)


@given(st.floats(10, 30), st.floats(5, 99))
def test_the_dew_point_is_the_coldest_mark(celsius, humidity):
    """Dew forms colder than mould begins, and neither is over the air at under 80 %."""
    dew, mould = (
        comfort.dew_point_celsius(celsius, humidity),
        comfort.mould_surface_celsius(celsius, humidity),
    )
    assert dew <= mould
    assert dew <= celsius + 1e-9


@given(st.floats(12, 28), st.floats(0.3, 2.0))
def test_warmer_votes_warmer(celsius, clo):
    """One kelvin more never makes the vote colder."""
    vote = [comfort.pmv(t, t, 0.1, 50, 1.2, clo) for t in (celsius, celsius + 1)]
    assert vote[0] < vote[1]


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: comfort.pmv(20, 20, 0.1, 120, 1.2, 0.5),
        lambda: comfort.panel_on_axis(500, 0),
        lambda: comfort.operative_celsius(20, 20, -1),
        lambda: comfort.surface_factor(12, 20, 20),
        lambda: comfort.control_accuracy([], 20),
        lambda: comfort.dew_point_celsius(20, 0),
    ],
)
def test_impossible_comfort_is_refused(wrong):
    """What cannot be answered is a ValueError with words."""
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        wrong()
