"""The room's states, followed from minute to minute: what is taken in, gone on from, begun anew and doubted."""

import math

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, ROUND, WATTS, case, plans, thermal
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.tracking import Tracked, at_odds, follow, is_due
from thermostatd.core.memory import AirMemory
from thermostatd.physics.thermal.model import FREE, NEIGHBOURS, OUTDOOR, POWER
from thermostatd.physics.thermal.plans import Usual
from thermostatd.physics.thermal.responses import Course

PLANS = plans()


def kept(minutes=1.0, air=20.0, **more):
    """The notes as they were left so many minutes ago; the reading of then is known."""
    state = [0.0, air, air, air, 0.0, 0.0]
    return {
        "at": NOW - 60.0 * minutes,
        "state": state,
        "joules": 0.0,
        "fitted_at": None,
        "read_at": NOW - 60.0 * minutes,
        "doubt": 1.0,
        "surprise": 0.0,
    } | more


def followed(notes, *, model=None, celsius=20.0, at=None, **other):
    """The room after what is in the notes; without news from the sensor, unless `at` tells when."""
    return follow(case(celsius, at=at, notes=notes, **other), PLANS, model or thermal())


@pytest.mark.parametrize(
    ("other", "joules"),
    [
        ({"was_on": True, "seconds": 10.0}, 6000.0),
        ({"was_on": False, "seconds": 10.0}, 0.0),
        ({"was_on": True, "seconds": 10.0, "drawn_watts": 150.0}, 1500.0),
        ({"was_on": False, "seconds": 10.0, "drawn_watts": 150.0}, 1500.0),
        ({"was_on": True, "seconds": 599.0}, 359_400.0),
        ({"was_on": True, "seconds": 3600.0}, 360_000.0),
    ],
)
def test_the_heat_of_each_step_is_taken_in_as_drawn(other, joules):
    """By meter where there is one, else full power while on; of a long hole at most ten minutes."""
    notes = {}
    is_due(case(notes=notes, **other))
    assert notes == {"joules": joules}
    is_due(case(notes=notes, **other))
    assert notes == {"joules": 2.0 * joules}


@pytest.mark.parametrize(
    ("at", "due"), [(None, True), (59.0, False), (59.9, False), (60.0, True), (90.0, True)]
)
def test_it_is_decided_at_once_and_then_once_a_minute(at, due):
    """A minute after the last time, or later."""
    notes = {} if at is None else {"at": NOW - at}
    assert is_due(case(notes=notes)) is due


def test_a_room_is_first_taken_as_it_reads():
    """The heat drawn now is in the air, the walls are a little colder, and nothing disturbs."""
    notes = {"joules": 36_000.0}
    found = followed(
        notes, celsius=19.5, at=NOW, was_on=True, model=thermal(profile=[600.0]), day_minute=77.0
    )
    assert found.state.tolist() == [600.0, 19.5, 19.2, 19.5, 0.0, 0.0]
    assert (found.profile, found.outdoors, found.day_minute) == ((600.0,), (), 77.0)
    assert notes == {
        "at": NOW,
        "joules": 0.0,
        "state": [600.0, 19.5, 19.2, 19.5, 0.0, 0.0],
        "fitted_at": None,
        "read_at": NOW,
        "doubt": pytest.approx(1.0 - 1.0 / 90.0),
        "surprise": 0.0,
        "weather": [20.0, 20.0],
    }


@pytest.mark.parametrize(
    ("minutes", "joules", "air"), [(1.0, 36_000.0, 20.1), (3.0, 54_000.0, 20.15), (45.0, 0.0, 20.0)]
)
def test_each_minute_is_gone_through_with_the_mean_power(minutes, joules, air):
    """36 kJ are 0.1 K, whatever the minutes that they were spread over."""
    notes = kept(minutes, joules=joules)
    found = followed(notes)
    assert found.inputs[POWER] == pytest.approx(joules / minutes / 60.0)
    assert found.state[1] == pytest.approx(air, abs=1e-4)
    assert (notes["at"], notes["joules"]) == (NOW, 0.0)
    assert notes["state"] == [round(float(value), 6) for value in found.state]


def test_power_is_never_more_than_a_minute_of_heat_gives():
    """Half a minute's joules count over a whole one, and are not yet gone through."""
    found = followed(kept(0.5, joules=18_000.0))
    assert found.inputs[POWER] == pytest.approx(300.0)
    assert found.state[1] == 20.0


def test_after_a_long_silence_it_begins_anew_from_the_reading():
    """45 minutes are gone through, one more is not."""
    notes = kept(45.0, doubt=7.0, surprise=2.0)
    assert followed(notes, celsius=18.0).state[1] == pytest.approx(20.0, abs=1e-6)
    assert (notes["doubt"], notes["surprise"]) == (7.0, 2.0)
    notes = kept(46.0, doubt=7.0, surprise=2.0)
    found = followed(notes, celsius=18.0)
    assert found.state.tolist() == [0.0, 18.0, 17.7, 18.0, 0.0, 0.0]
    assert (notes["doubt"], notes["surprise"], notes["read_at"]) == (1.0, 0.0, None)


@pytest.mark.parametrize(
    ("age", "air"), [(0.0, 17.0), (10.0, 18.0), (45.0, 21.5), (45.1, 19.5), (-0.1, 19.5), (None, 19.5)]
)
def test_a_new_model_begins_where_its_fit_left_off(age, air):
    """If that was within 45 minutes, with the usual day's 600 W since then; else as the room reads."""
    at = None if age is None else NOW - 60.0 * age
    model = thermal(state=[0.0, 17.0, 17.0, 17.0, 0.0, 0.0], at=at, profile=[600.0])
    notes = {"joules": 36_000.0, "fitted_at": -1.0}
    found = followed(notes, model=model, celsius=19.5)
    assert found.state[1] == pytest.approx(air, abs=1e-4)
    assert notes["fitted_at"] == at
    assert found.inputs[POWER] == 0.0


@pytest.mark.parametrize(("minutes", "air"), [(3.0, 20.3), (45.0, 24.5), (46.0, 18.0)])
def test_a_new_model_without_a_state_goes_on_from_the_old_ones(minutes, air):
    """Through what has passed since, if that is not long ago."""
    notes = kept(minutes, joules=WATTS * 60.0 * minutes, doubt=7.0)
    found = followed(notes, model=thermal(at=NOW - 9e5, state=[0.0, 5.0, 5.0, 5.0, 0.0, 0.0]), celsius=18.0)
    assert found.state[1] == pytest.approx(air, abs=1e-3)
    assert (notes["fitted_at"], notes["doubt"], notes["read_at"]) == (NOW - 9e5, 1.0, None)
    notes = kept(minutes, joules=WATTS * 60.0 * minutes, fitted_at=5.0)
    assert followed(notes, model=thermal(at=NOW - 60.0), celsius=18.0).state[1] == pytest.approx(
        air, abs=1e-3
    )


def test_a_model_in_use_goes_on_as_it_is():
    """What is of the same fit is not begun again."""
    notes = kept(2.0, fitted_at=NOW - 120.0, doubt=7.0)
    model = thermal(at=NOW - 120.0, state=[0.0, 5.0, 5.0, 5.0, 0.0, 0.0])
    assert followed(notes, model=model, celsius=18.0).state[1] == pytest.approx(20.0, abs=1e-6)
    assert notes["doubt"] == 7.0


@pytest.mark.parametrize(
    ("other", "outdoor", "neighbours"),
    [
        ({"outdoor_celsius": None}, 5.0, 19.0),
        ({"outdoor_celsius": -8.0, "neighbours_celsius": 16.0}, -8.0, 16.0),
        ({"outdoor_celsius": 0.0, "neighbours_celsius": 0.0}, 0.0, 0.0),
    ],
)
def test_what_is_around_the_room_holds(other, outdoor, neighbours):
    """Where nothing is heard it is mild outdoors, and next door as here."""
    found = followed(kept(), celsius=19.0, **other)
    assert (found.inputs[OUTDOOR], found.inputs[NEIGHBOURS], found.inputs[FREE]) == (outdoor, neighbours, 0.0)


@pytest.mark.parametrize(
    ("minute", "watts"), [(0.0, 10.0), (359.9, 10.0), (360.0, 20.0), (1439.0, 40.0), (1440.0, 10.0)]
)
def test_a_usual_days_heat_is_that_of_its_part(minute, watts):
    """Four parts of six hours; the next day begins with the first."""
    found = followed(
        kept(), model=thermal(profile=[10.0, 20.0, 30.0, 40.0], outdoors=[1.0]), day_minute=minute
    )
    assert found.inputs[FREE] == watts
    assert (found.profile, found.outdoors) == ((10.0, 20.0, 30.0, 40.0), (1.0,))


def test_a_part_of_the_model_that_is_empty_is_no_usual_day():
    """None and nothing are the same."""
    found = followed(kept(), model=thermal(profile=None, outdoors=None))
    assert (found.profile, found.outdoors) == ((), ())


@pytest.mark.parametrize(
    ("read_at", "minutes", "share"),
    [(None, 1.0, 1 / 90), (0.5, 0.5, 1 / 90), (30.0, 30.0, 1 / 3), (180.0, 180.0, 1.0)],
)
def test_a_reading_corrects_the_states_and_weighs_in_the_doubt(read_at, minutes, share):
    """By the filter's gain for the time since the last; doubt is the mean square surprise of ninety minutes."""
    notes = kept(read_at=None if read_at is None else NOW - 60.0 * read_at, doubt=2.0, surprise=1.0)
    found = followed(notes, celsius=20.05, at=NOW)
    state, surprise = PLANS.filter.correct(np.array([0.0, 20.0, 20.0, 20.0, 0.0, 0.0]), 20.05, minutes)
    np.testing.assert_allclose(found.state, state, atol=1e-6)
    assert 0.1 < surprise < 6.0
    assert notes["read_at"] == NOW
    assert notes["doubt"] == pytest.approx(2.0 + share * (surprise**2 - 2.0), rel=1e-6)
    assert notes["surprise"] == pytest.approx(1.0 + (surprise - 1.0) / 4.0, rel=1e-6)


def test_one_wild_reading_casts_no_more_doubt_than_six_deviations():
    """36 at most."""
    notes = kept(read_at=NOW - 10_800.0)
    followed(notes, celsius=30.0, at=NOW)
    assert notes["doubt"] == 36.0
    assert notes["surprise"] > 10.0


def test_a_reading_counts_once():
    """The same reading told again, or none at all, changes nothing."""
    for at in (None, NOW - 60.0):
        notes = kept(1.0)
        assert followed(notes, celsius=25.0, at=at).state[1] == pytest.approx(20.0, abs=1e-6)
        assert (notes["doubt"], notes["surprise"]) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("doubt", "before", "odd"),
    [(9.0, False, False), (9.1, False, True), (4.1, True, True), (4.0, True, False), (9.1, None, True)],
)
def test_a_model_at_odds_is_trusted_again_later_than_it_was_doubted(doubt, before, odd):
    """Nine to be let go of, four to be gone by again."""
    notes = {"doubt": doubt} | ({} if before is None else {"at_odds": before})
    assert at_odds(notes) is odd
    assert notes["at_odds"] is odd


def test_what_an_older_program_kept_is_begun_anew():
    """A state without the disturbance that holds for days is none of this model's, in the notes and in a model."""
    notes = kept(1.0, state=[0.0, 25.0, 25.0, 25.0, 0.0])
    assert followed(notes, celsius=18.0).state.tolist() == [0.0, 18.0, 17.7, 18.0, 0.0, 0.0]
    model = thermal(at=NOW - 120.0, state=[0.0, 5.0, 5.0, 5.0, 0.0])
    assert followed(kept(1.0, air=19.0), model=model, celsius=18.0).state[1] == pytest.approx(19.0, abs=1e-3)


@pytest.mark.parametrize(
    ("change", "celsius", "pulled"),
    [(0.0, 19.0, False), (0.3, 19.71, False), (0.3, 19.0, True), (0.3, 20.29, False), (0.3, 21.0, True)],
)
def test_the_silence_of_a_sensor_that_speaks_on_change_tells_that_the_air_has_not_moved_further(
    change, celsius, pulled
):
    """It last said another value than is expected of it now; it would have spoken of more than its change."""
    found = followed(kept(1.0), celsius=celsius, air=AirMemory(at=NOW - 60.0, change=change))
    gain, _ = PLANS.filter.gain(1.0)
    off = celsius - 20.0 - math.copysign(change, celsius - 20.0)
    assert found.state[3] == pytest.approx(20.0 + (gain[3] * off if pulled else 0.0), abs=1e-6)
    assert found.state[1] == pytest.approx(20.0 + (gain[1] * off if pulled else 0.0), abs=1e-6)


@pytest.mark.parametrize(
    ("rms", "minutes", "kelvin"),
    [
        ((), 90.0, 0.0),
        ((0.1, 0.2, 0.3), 90.0, 0.0),
        ((0.05, 0.13, 0.4, 0.5), 10.0, 0.0277),
        ((0.05, 0.13, 0.4, 0.5), 5.0, 0.0138),
        ((0.05, 0.13, 0.4, 0.5), 60.0, 0.261),
        ((0.05, 0.13, 0.4, 0.5), 600.0, 0.4983),
        ((0.02, 0.13, 0.4, 0.5), 10.0, 0.0),
    ],
)
def test_how_far_a_forecast_usually_is_off_is_known_from_the_fit(rms, minutes, kelvin):
    """Between the distances it goes straight, from nothing at once; the sensor's own noise is not the air's."""
    found = followed(kept(1.0), model=thermal(rms_kelvin=list(rms)))
    assert found.usual_error(np.array([minutes]))[0] == pytest.approx(kelvin, abs=1e-3)


COURSE = Course(np.array([4.0, 8.0]), np.array([[0, 1, 0, 0, 0, 0]] * 2), np.zeros((2, 4)), np.arange(9.0))
USUAL = Usual(4, np.array([[1.0, 0.0], [10.0, 1.0]]), np.array([[3.0, 0.0], [0.0, 5.0]]), np.zeros((2, 2)))


@pytest.mark.parametrize(
    ("day", "outdoors", "minute", "air"),
    [
        ((), (), 0.0, [20.0, 20.0]),
        ((7.0, 7.0), (), 0.0, [20.0, 20.0]),
        ((100.0, 107.0), (), 717.9, [20.0, 27.0]),
        ((100.0, 107.0), (), 718.0, [27.0, 97.0]),
        ((100.0, 107.0), (), 1438.0, [13.0, -57.0]),
        ((), (1.0, 2.0), 714.0, [20.0, 25.0]),
        ((), (1.0, 2.0), 713.9, [20.0, 20.0]),
        ((100.0, 107.0), (1.0, 2.0), 718.0, [30.0, 102.0]),
    ],
)
def test_the_air_goes_on_as_on_a_usual_day(day, outdoors, minute, air):
    """Each stretch answers to what its middle brings more than the present minute does."""
    room = Tracked(np.array([0.0, 20.0, 0.0, 0.0, 0.0, 0.0]), np.zeros(4), day, outdoors, minute)
    assert room.free(COURSE, USUAL).tolist() == pytest.approx(air)


def test_rooms_of_round_numbers_are_what_they_say():
    """600 W for a minute are 0.1 K, and nothing is in store or leaves."""
    state = PLANS.filter.ahead(np.array([0.0, 20.0, 20.0, 20.0, 0.0, 0.0]), np.array([WATTS, 0.0, 0.0, 0.0]))
    assert state[1] == pytest.approx(20.1, abs=1e-4)
    still = PLANS.filter.ahead(np.array([WATTS, 20.0, 20.0, 20.0, 0.0, 0.0]), np.zeros(4))
    assert still[1] == pytest.approx(20.0, abs=1e-4)
    assert math.isclose(PLANS.near.full[-1] * WATTS, 12.0, rel_tol=1e-4)
    assert ROUND.loss_watts_per_kelvin < 1e-8
    assert LEAKY.to_outdoors == 20.0
