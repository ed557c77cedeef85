"""What a room tells its neighbours of its coming hours, and what they make of it: 600 W warm it by 0.1 K a minute."""

import math

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, WATTS, case, plans, target, thermal, tracked
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.around import tell_neighbours
from thermostatd.core.demand.predictive.heard import KNOTS, mean_changes
from thermostatd.core.demand.predictive.tracking import follow

PLANS = plans()


def told(air=20.0, wish=None, *, made=PLANS, room=None, notes=None, full=WATTS):
    """The air that is told for each knot."""
    notes = {} if notes is None else notes
    tell_neighbours(case(air, wish, notes=notes), made, room or tracked(air), full)
    return dict(zip(KNOTS, notes["ahead"]["air"], strict=True))


def test_a_room_that_is_warm_stays_so():
    """At its target, which does not change."""
    assert set(told(20.0, 20.0).values()) == {20.0}


def test_air_over_a_target_falls_by_itself_and_no_further_than_that():
    """20 W/K of loss to 10 degrees outdoors, from two kelvins over."""
    air = told(20.0, 18.0, made=plans(LEAKY), room=tracked(20.0, outdoor=10.0))
    free = plans(LEAKY).far.free(tracked(20.0, outdoor=10.0).state, tracked(20.0, outdoor=10.0).inputs)
    assert air[60.0] == pytest.approx(free[5], abs=0.005)
    assert free[5] > 18.0 > free[-1]
    assert air[360.0] == 18.0


def test_before_a_rise_it_climbs_evenly_and_is_there_in_time():
    """18 minutes of full power, and what a rise is begun sooner."""
    air = told(20.0, target(20.0, 22.0, 120.0))
    assert (air[90.0], air[180.0]) == (20.0, 22.0)
    assert air[120.0] == pytest.approx(21.8, abs=0.005)
    close = told(20.0, target(20.0, 22.0, 20.0))
    assert 20.0 < close[0.0] + 0.5 < close[20.0]


def test_a_rise_that_is_begun_is_climbed_from_now_on():
    """Straight to its end, an hour and a half from now, though full power would take a third of that."""
    air = told(20.0, target(20.0, 23.2, 90.0), notes={"rise": {"at": NOW + 5400.0}})
    assert [air[minutes] for minutes in (20.0, 40.0, 60.0, 90.0)] == pytest.approx(
        [20.0 + 3.0 * minutes / 90.0 for minutes in (20.0, 40.0, 60.0, 90.0)], abs=0.01
    )


def test_no_room_is_told_warmer_than_its_power_brings_it():
    """By 60 W it gains 0.6 K in an hour, whatever is wanted."""
    air = told(20.0, target(23.0), full=60.0)
    assert (air[60.0], air[240.0]) == pytest.approx((20.6, 22.4), abs=0.005)


def test_after_a_fall_in_target_it_falls_from_there():
    """Held until then, an hour ahead; and no further than the new target."""
    air = told(20.0, target(20.0, 18.0, 60.0), made=plans(LEAKY), room=tracked(20.0, outdoor=0.0))
    assert air[60.0] == 20.0
    assert 18.0 < air[90.0] < 20.0
    assert air[360.0] == 18.0


@pytest.mark.parametrize(("ago", "anew"), [(299.0, False), (300.0, True), (-1.0, True)])
def test_it_is_worked_out_every_five_minutes(ago, anew):
    """And where the clock of the notes lies ahead."""
    notes = {"ahead": {"at": NOW - ago, "air": [7.0] * len(KNOTS)}}
    assert (told(notes=notes)[0.0] == 20.0) is anew


def ahead(rise, ago=0.0):
    """The word of a room that is expected to gain so many kelvins in the first twenty minutes."""
    return {"at": NOW - ago, "air": [18.0] + [18.0 + rise] * (len(KNOTS) - 1)}


@pytest.mark.parametrize(
    ("rooms", "change"),
    [
        ([ahead(2.0)], 2.0),
        ([ahead(2.0), ahead(1.0)], 1.5),
        ([ahead(2.0), None], 1.0),
        ([ahead(2.0, 600.0)], 1.0),
        ([ahead(2.0, 900.0)], 0.5),
    ],
)
def test_neighbours_change_as_they_tell_on_the_mean(rooms, change):
    """From now on, where it was told a while ago; one that tells nothing is taken to stay as it is."""
    assert mean_changes(rooms, NOW)[-1] == pytest.approx(change)
    assert mean_changes(rooms, NOW)[0] == 0.0


@pytest.mark.parametrize("rooms", [[], [None], [ahead(2.0, 901.0)], [ahead(2.0, -1.0)]])
def test_where_nothing_holds_they_are_taken_to_stay_as_they_are(rooms):
    """Too old, from a clock ahead, or never told."""
    assert mean_changes(rooms, NOW) == ()


def test_a_room_whose_neighbours_warm_up_is_expected_warmer():
    """10 W/K to neighbours that gain two kelvins in an hour and a half; after ten, of first order by half of it."""
    one = plans(LEAKY)
    alone, beside = tracked(20.0), tracked(20.0, around=tuple(2.0 * min(1.0, knot / 90.0) for knot in KNOTS))
    for found, usual in ((one.near, one.near_usual), (one.far, one.far_usual)):
        gain = beside.free(found, usual) - alone.free(found, usual)
        assert np.all(np.diff(gain) > 0.0)
        assert gain[0] < 0.01
        assert beside.free(found, usual, foretold=False).tolist() == alone.free(found, usual).tolist()
    inwards, outwards = 0.5 * LEAKY.to_neighbours, 0.5 * (LEAKY.to_neighbours + LEAKY.to_outdoors)
    gone = 3600.0 * (10.0 - 0.75) * outwards / LEAKY.air_joules_per_kelvin
    assert gain[-1] == pytest.approx(2.0 * inwards / outwards * (1.0 - math.exp(-gone)), rel=0.01)


def test_a_room_is_followed_with_what_its_neighbours_told():
    """Their words stand in its case."""
    one = case(neighbours_told=(ahead(2.0), None))
    assert follow(one, PLANS, thermal()).around == mean_changes(one.neighbours_told, NOW)
    assert follow(case(), PLANS, thermal()).around == ()
