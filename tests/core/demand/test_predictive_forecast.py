"""What a forecast changes in predictive control: the air that is foreseen, by the difference between hours."""

from dataclasses import replace

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, case, plans, thermal, tracked
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.tracking import follow
from thermostatd.core.forecast import MILD_CELSIUS
from thermostatd.core.values import Forecast
from thermostatd.physics.thermal.model import OUTDOOR
from thermostatd.physics.thermal.plans import Usual

HOUR = 3600.0
PLANS = plans(LEAKY)
ONE_FOR_ONE = Usual(30, np.eye(6), np.eye(6), np.eye(6))
"""Six half hours of which each answers only to itself, a kelvin for a kelvin."""


class Level:
    """A course on which the air stays as it is."""

    @staticmethod
    def free(state, inputs):
        return np.full(6, state[1])


def foreseen(forecast, *, outdoors=(), minute=0.0):
    """What the coming half hours bring, K."""
    room = replace(tracked(minute=minute), outdoors=tuple(outdoors), forecast=forecast)
    return (room.free(Level(), ONE_FOR_ONE) - 20.0).round(6).tolist()


def test_the_forecast_counts_by_its_change_from_now():
    """4° now, 2° in an hour, -6° in two: in the middle of each half hour, and level after its end."""
    assert foreseen(Forecast((4.0, 2.0, -6.0), 0.0)) == [-0.5, -1.5, -4.0, -8.0, -10.0, -10.0]


def test_one_told_an_hour_ago_counts_from_its_second_value():
    """What has passed of it is past."""
    assert foreseen(Forecast((9.0, 4.0, 2.0), HOUR)) == [-0.5, -1.5, -2.0, -2.0, -2.0, -2.0]


def test_it_stands_in_for_the_usual_day_and_that_goes_on_from_its_end():
    """The usual day is 3 K warmer from the second hour on: it counts by what it changes after the forecast's end."""
    usual = [0.0, 0.0, 3.0, *[5.0] * 21]
    assert foreseen(None, outdoors=usual) == [0.0, 0.0, 0.0, 0.0, 3.0, 3.0]
    assert foreseen(Forecast((4.0, 2.0), 0.0), outdoors=usual) == [-0.5, -1.5, -2.0, -2.0, 1.0, 1.0]
    assert foreseen(Forecast((4.0, 2.0, 2.0), 0.0), outdoors=usual) == [-0.5, -1.5, -2.0, -2.0, -2.0, -2.0]
    assert foreseen(Forecast((4.0, 2.0, 2.0), 0.0), outdoors=usual, minute=30.0)[4:] == [-2.0, 0.0]


def test_where_it_is_not_asked_for_a_usual_day_goes_on():
    """The search among few switchings is shown no forecast."""
    room = replace(tracked(), outdoors=(0.0, 1.0), forecast=Forecast((4.0, 2.0), 0.0))
    plain = replace(room, forecast=None)
    for one in (room, plain):
        assert (
            one.free(Level(), ONE_FOR_ONE, foretold=False).tolist()
            == plain.free(Level(), ONE_FOR_ONE).tolist()
        )


@pytest.mark.parametrize(
    ("felt", "forecast", "outdoor"),
    [
        (1.0, Forecast((8.0, 6.0), 0.0), 1.0),
        (None, Forecast((8.0, 6.0), HOUR / 2), 7.0),
        (None, None, MILD_CELSIUS),
    ],
)
def test_where_outdoors_is_not_felt_the_forecast_for_now_stands_in(felt, forecast, outdoor):
    """The sensor first, then the forecast, then a mild day."""
    found = follow(
        case(outdoor_celsius=felt, forecast=forecast, notes={"joules": 0.0}, at=NOW), PLANS, thermal(LEAKY)
    )
    assert found.inputs[OUTDOOR] == outdoor
    assert found.forecast == forecast


def test_a_cold_front_is_foreseen_as_the_room_itself_would_answer():
    """4 K colder every hour, half of 20 W/K from the air of 0.1 kWh/K: as the model goes through it by the minute."""
    forecast = Forecast(tuple(20.0 - 4.0 * hour for hour in range(11)), 0.0)
    room = replace(tracked(outdoor=20.0), forecast=forecast)
    foreseen = room.free(PLANS.far, PLANS.far_usual)
    state, told = room.state.copy(), []
    for minute in range(600):
        inputs = room.inputs.copy()
        inputs[OUTDOOR] = forecast.at(60.0 * (minute + 0.5))
        state = PLANS.filter.ahead(state, inputs)
        told.append(state[1])
    assert foreseen == pytest.approx(np.array(told)[9::10], abs=0.02)
    assert foreseen[35] < 20.0 - 5.0
