"""A change in the weather: known by the outdoor sensor alone, gone on with for hours, and no more than weather does."""

import json
from dataclasses import replace

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, case, plans, thermal, tracked
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.tracking import follow
from thermostatd.core.demand.predictive.trend import FADES_HOURS, MOST_KELVIN_AN_HOUR, coming, trend_of
from thermostatd.core.values import Forecast

PLANS = plans(LEAKY)


def lived(felt, usual=None, seconds=60.0):
    """The trends as these outdoor airs are felt one after the other, and the notes."""
    notes, found = {}, []
    for place, celsius in enumerate(felt):
        found.append(trend_of(notes, celsius, 0.0 if usual is None else usual[place], seconds))
    return found, notes


def test_air_that_stays_has_no_trend():
    """Whatever it is, and in the first minute of any."""
    assert lived([-7.0] * 600)[0] == [0.0] * 600
    assert lived([12.0])[0] == [0.0]


@pytest.mark.parametrize("pace", [-1.5, 0.5])
def test_an_even_slope_is_found_after_some_hours(pace):
    """In K/h; half of it within two and a half, and never more."""
    felt = [5.0 + pace * minute / 60.0 for minute in range(16 * 60)]
    found = lived(felt)[0]
    assert found[-1] == pytest.approx(pace, rel=0.01)
    assert 0.4 < found[150] / pace < 0.7
    assert all(0.0 <= one / pace <= 1.0 for one in found)


def test_what_a_usual_day_does_is_none():
    """A morning that warms as it always does."""
    day = [6.0 * np.sin(2 * np.pi * minute / 1440) for minute in range(720)]
    found = lived([2.0 + one for one in day], day)[0]
    assert max(abs(one) for one in found) < 1e-3


def test_one_reading_that_leaps_hardly_moves_it():
    """A value of a coarse sensor, 0.5 K further on, is a trend of under a tenth of a kelvin an hour."""
    assert max(lived([0.0] * 60 + [0.5] * 600)[0]) < 0.15


def test_no_weather_goes_faster_than_weather_does():
    """A sensor that was carried indoors."""
    assert max(lived([-10.0] * 60 + [60.0] * 60)[0]) == MOST_KELVIN_AN_HOUR


def test_it_begins_anew_after_a_gap_and_where_nothing_was_felt():
    """What was an hour and more ago is no slope; nor is one end known of an outage."""
    notes = {}
    trend_of(notes, 5.0, 0.0, 60.0)
    assert trend_of(notes, -5.0, 0.0, 3601.0) == 0.0
    assert trend_of(notes, None, 0.0, 60.0) == 0.0
    assert notes == {}
    assert trend_of(notes, 5.0, 0.0, 60.0) == 0.0
    assert json.loads(json.dumps(notes)) == {"weather": [5.0, 5.0]}


def test_it_fades_over_hours():
    """At first by its own pace, and in all by so many hours of it."""
    brings = coming(-2.0, np.array([0.0, 6.0, 1e5]))
    assert brings == pytest.approx([0.0, -0.2, -2.0 * FADES_HOURS], abs=0.01)


def test_a_rise_sees_the_room_colder_for_it_but_not_where_a_forecast_tells_nor_do_the_search_and_the_night():
    """K over what a usual day would bring; `LEAKY` loses half of 20 W/K from its air."""
    plain = tracked(20.0)
    falling = replace(plain, trend=-1.0)
    told = replace(falling, forecast=Forecast((20.0,) * 12, 0.0))
    air = [one.free(PLANS.far, PLANS.far_usual, rising=True) for one in (plain, falling, told)]
    assert air[1][5] < air[0][5] - 0.03
    np.testing.assert_array_equal(air[2], air[0])
    for foretold in (False, True):
        searched = [one.free(PLANS.near, PLANS.near_usual, foretold=foretold) for one in (plain, falling)]
        np.testing.assert_array_equal(searched[0], searched[1])


def test_a_room_follows_it_minute_by_minute():
    """From its own notes, beside the usual day outdoors."""
    notes, found = {"joules": 0.0}, []
    for minute in range(300):
        made = case(20.0, notes=notes, steady=NOW + 60.0 * minute, outdoor_celsius=5.0 - minute / 60.0)
        found.append(follow(made, PLANS, thermal(LEAKY)).trend)
    assert found[0] == 0.0
    assert found[-1] == pytest.approx(-0.85, abs=0.1)
