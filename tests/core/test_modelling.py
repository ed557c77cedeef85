"""From a room's minutes to its model. The houses are invented, and what their rooms are made of is known."""

import math
from array import array

import numpy as np
import pytest

from tests.physics.thermal.rooms import KNOWN, WATTS, values
from tests.stories.teller import SECOND, house_of, study
from thermostatd.core.learning import COLUMNS, RoomHistory
from thermostatd.core.modelling import (
    _equal,
    heater_seconds,
    model_of,
    record_of,
    sensor_step,
)
from thermostatd.physics.thermal.learned import Judged, learn
from thermostatd.physics.thermal.model import discrete

ROOM = house_of(study()).rooms[0]
TWO = house_of(study(more=SECOND.format(name="panel", watts=400))).rooms[0]
BARE = house_of('[house]\ntimezone = "UTC"\n[[room]]\nname = "den"\nsensor = { topic = "d" }').rooms[0]
NAN = math.nan


def history(first=100, **columns):
    """A room's minutes from these columns; what is not given is 5° outdoors, nothing next door and no heat."""
    count = len(columns["celsius"])
    usual = {"outdoor": [5.0] * count, "neighbours": [NAN] * count, "watts": [0.0] * count} | columns
    return RoomHistory(first, {name: array("f", usual[name]) for name in COLUMNS})


def first_order(hours, *, watts=600.0, gain=30.0, tau_hours=10.0, lag=2):
    """Minutes of a room that answers to heat as dT = (T_out - T + gain·u) / tau, `lag` five minutes late."""
    celsius, share, air = [], [], 16.0
    outdoor = [2.0 + 3.0 * math.sin(k / 40.0) for k in range(int(hours * 12))]
    for k, out in enumerate(outdoor):
        share.append(float(k // 9 % 2 or k % 7 == 0))
        celsius.append(air)
        before = share[k - lag] if k >= lag else 0.0
        air += (out - air + gain * before) * 300.0 / (3600.0 * tau_hours)
    each = {"celsius": celsius, "outdoor": outdoor, "watts": [watts * one for one in share]}
    return history(**{name: [value for value in column for _ in range(5)] for name, column in each.items()})


def relay(hours, hole=None):
    """Minutes that a plain relay leaves of the known room; silent in the minutes `hole`."""
    rng = np.random.default_rng(1)
    a, b = discrete(values()[:8])
    state, on, told = np.array([300.0, 20.0, 19.0, 20.0, 0.0, 0.0]), False, {name: [] for name in COLUMNS}
    for minute in range(int(hours * 60)):
        inputs = np.array([WATTS * on, 3.0 * np.sin(2.0 * np.pi * minute / 1440.0) - 2.0, 20.0, 0.0])
        state = a @ state + b @ inputs
        state[4] += rng.normal() * KNOWN.drift_watts
        celsius = round(state[3] + rng.normal() * 0.03, 1)
        on = celsius < 20.2 if on else celsius <= 19.8
        heard = hole is None or minute not in hole
        for name, value in zip(COLUMNS, (celsius if heard else NAN, inputs[1], 20.0, inputs[0]), strict=True):
            told[name].append(value)
    return history(**told)


@pytest.fixture(scope="module")
def record16():
    """Sixteen hours under a relay."""
    return relay(16)


@pytest.fixture(scope="module")
def alone(record16):
    """What that record tells of a room without neighbours."""
    return learn(record_of(ROOM, record16, 77.0), heater_seconds(ROOM), False, None)


@pytest.mark.parametrize("before", [None, {"gain_kelvin": 7.0}])
def test_a_room_without_heaters_or_an_hour_of_record_tells_nothing(before):
    """Nor does it bring back what was known."""
    assert model_of(BARE, 1, first_order(13), 0.0, before) is None
    assert model_of(ROOM, 1, history(celsius=[20.0] * 59), 0.0, before) is None


def test_a_record_that_tells_nothing_new_leaves_what_was_known():
    """As another dict; nothing where nothing was."""
    dull = history(celsius=[20.0] * 60)
    before = {"gain_kelvin": 7.0, "thermal": {"a": 1}}
    found = model_of(ROOM, 1, dull, 0.0, before)
    assert found == before
    assert found is not before
    assert model_of(ROOM, 1, dull, 0.0, None) is None
    assert model_of(ROOM, 1, dull, 0.0, {}) is None


@pytest.mark.parametrize(("room", "watts"), [(ROOM, 600.0), (TWO, 1000.0)])
def test_half_a_day_tells_the_first_order_model(room, watts):
    """Gain at the full power of all heaters, time constant, dead time, what is left over, and of how many steps."""
    found = model_of(room, 1, first_order(13, watts=watts), 0.0, None)
    assert found == {
        "gain_kelvin": pytest.approx(30.0, rel=1e-3),
        "tau_seconds": pytest.approx(36_000.0, rel=1e-3),
        "dead_seconds": 600.0,
        "residual_kelvin": pytest.approx(0.0, abs=1e-4),
        "steps": 156,
    }


def test_a_thermal_part_stays_beside_a_new_first_order_model():
    """As long as no better one is found."""
    thermal = {"constants": {}, "mine": 1}
    found = model_of(ROOM, 1, first_order(13), 0.0, {"gain_kelvin": 7.0, "thermal": thermal})
    assert found["gain_kelvin"] == pytest.approx(30.0, rel=1e-3)
    assert found["thermal"] == thermal
    assert found["thermal"] is not thermal
    assert "thermal" not in model_of(ROOM, 1, first_order(13), 0.0, {"gain_kelvin": 7.0})


def test_sixteen_hours_tell_a_thermal_part(record16, alone):
    """What is learned of the record, with the steady second at which its last whole step ended."""
    found = model_of(ROOM, 1, record16, 77.0, None)
    assert found["thermal"] == alone.plain | {"at": 60.0 * (100 + 960)}
    assert found["steps"] == 192
    assert found["thermal"]["constants"]["heater_seconds"] == pytest.approx(KNOWN.heater_seconds, rel=0.1)


def test_a_room_among_others_has_neighbours(record16, alone):
    """From two rooms on, and more may go to them than to none."""
    found = model_of(ROOM, 2, record16, 77.0, {"gain_kelvin": 7.0})["thermal"]["constants"]
    assert found["to_neighbours"] > alone.plain["constants"]["to_neighbours"]


def test_a_model_that_forecasts_better_is_kept(record16):
    """The true constants are not beaten; nonsense is."""
    true, false = ({"constants": one, "mine": 1} for one in (KNOWN.plain(), {"heater_seconds": "?"}))
    assert model_of(ROOM, 1, record16, 77.0, {"thermal": true})["thermal"] == true
    assert "mine" not in model_of(ROOM, 1, record16, 77.0, {"thermal": false})["thermal"]


def test_a_record_with_a_hole_tells_the_thermal_part_alone():
    """The first-order one, for which it is too short, is made to answer as that does; an odd last minute counts not."""
    found = model_of(ROOM, 1, relay(16 + 1 / 60, hole=range(470, 500)), 77.0, None)
    assert set(found) == {"gain_kelvin", "tau_seconds", "dead_seconds", "thermal"}
    assert found["thermal"]["at"] == 60.0 * (100 + 960)
    constants = found["thermal"]["constants"]
    assert found["dead_seconds"] == pytest.approx(
        constants["heater_seconds"] + constants["sensor_seconds"], rel=1e-3
    )
    assert found["gain_kelvin"] == pytest.approx(600.0 / found["thermal"]["loss_watts_per_kelvin"], rel=1e-3)


def test_a_thermal_model_answers_in_the_long_run_as_its_first_order_equal():
    """Its gain is what full power warms the room over its surroundings; its time that of the walls."""
    found = _equal(Judged(KNOWN, {}), 600.0)
    assert found["gain_kelvin"] == pytest.approx(600.0 / (10.0 + 1.0 / (1.0 / 10.0 + 1.0 / 120.0)), abs=5e-4)
    assert found["tau_seconds"] == pytest.approx(KNOWN.settling_seconds, abs=0.05)
    assert found["dead_seconds"] == 1000.0 + 420.0


def test_minutes_are_taken_in_pairs():
    """The last reading, the mean of what was around and of the heat; an odd last minute is left."""
    kept = history(
        celsius=[20.0, 20.5, 21.0, NAN, NAN, NAN, 19.0],
        outdoor=[1.0, 3.0, 4.0, 4.0, 0.0, -2.0, 9.0],
        neighbours=[18.0, 20.0, NAN, 18.0, 17.0, 17.0, 9.0],
        watts=[0.0, 600.0, 600.0, 600.0, 0.0, 0.0, 9.0],
    )
    found = record_of(ROOM, kept, 0.0)
    assert (found.minutes, found.watts, len(found)) == (2, 600.0, 3)
    assert found.celsius.dtype == np.float64
    np.testing.assert_array_equal(found.celsius, [20.5, 21.0, NAN])
    np.testing.assert_array_equal(
        found.inputs, [[300.0, 2.0, 19.0, 0.0], [600.0, 4.0, 18.0, 0.0], [0.0, -1.0, 17.0, 0.0]]
    )
    assert record_of(TWO, kept, 0.0).watts == 1000.0


def test_neighbours_that_were_never_heard_are_at_twenty():
    """Where none stands there is none: 20 °C."""
    assert record_of(ROOM, history(celsius=[20.0] * 4), 0.0).inputs[:, 2].tolist() == [20.0, 20.0]


@pytest.mark.parametrize(
    ("first", "clock", "minute"), [(100, 77.0, 177.0), (1400, 77.0, 37.0), (0, 0.0, 0.0), (1440, 0.0, 0.0)]
)
def test_a_record_knows_its_first_minute_of_the_day(first, clock, minute):
    """By the house's clock at steady second zero."""
    assert record_of(ROOM, history(first=first, celsius=[20.0] * 4), clock).first_minute == minute


@pytest.mark.parametrize(
    ("celsius", "step"),
    [
        ([], 0.1),
        ([20.0] * 30, 0.1),
        ([20.0, 20.5] * 5, 0.1),
        ([20.0, 20.5] * 5 + [20.0], 0.5),
        ([20.0, NAN, 20.5, NAN] * 6, 0.5),
        ([20.0, 20.0625] * 8, 0.0625),
        ([20.0, 20.5, 20.0, 20.5, 21.5] * 3, 0.5),
        ([20.0, 20.006] * 8, 0.01),
        ([20.0, 20.004] * 8, 0.1),
        ([20.0, 22.0] * 8, 1.0),
        (np.cumsum([0.1 * n for n in range(12)]).tolist(), 0.3),
    ],
)
def test_a_sensor_speaks_in_steps(celsius, step):
    """What a fifth of its moves are at most, from 0.01 to 1 K; under ten moves tell nothing, and a tenth is taken."""
    assert sensor_step(np.array(celsius)) == pytest.approx(step)


@pytest.mark.parametrize(
    ("heater", "seconds"),
    [
        ('kind = "oil-filled"', 11_500.0 / 626.0 * 62.0 / 1.3),
        ('kind = "panel"', 2.5 * 60.0 / 1.3),
        ('kind = "infrared"', 3.0 * 90.0 / 1.3),
    ],
)
def test_a_heater_has_the_time_constant_of_its_kind(heater, seconds):
    """What its body holds over what it sheds more for each kelvin (common practice, no published source)."""
    assert heater_seconds(house_of(study(heater=heater)).rooms[0]) == pytest.approx(seconds)


def test_several_heaters_have_the_mean_by_their_watts():
    """600 W of oil and 400 W of panel."""
    second = SECOND.format(name="panel", watts=400) + 'kind = "panel"'
    room = house_of(study(heater='kind = "oil-filled"', more=second)).rooms[0]
    oil, panel = 11_500.0 / 626.0 * 62.0 / 1.3, 2.5 * 60.0 / 1.3
    assert heater_seconds(room) == pytest.approx(0.6 * oil + 0.4 * panel)
