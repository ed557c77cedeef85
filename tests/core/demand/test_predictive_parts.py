"""The search over switchings, the planned night and the history, piece by piece."""

import json

import numpy as np
import pytest

from tests.physics.thermal.rooms import KNOWN, WATTS
from tests.stories.known_room import KnownRooms, house_of
from thermostatd.core.learning import MOST_MINUTES, History, RoomHistory
from thermostatd.core.values import Reading
from thermostatd.physics.thermal.model import AIR, Constants, holding_watts
from thermostatd.physics.thermal.plans import plans_of
from thermostatd.physics.thermal.quietly import Night, allowed, plan

QUICK = Constants(**{
    **KNOWN.plain(), "air_joules_per_kelvin": 320e3, "mass_joules_per_kelvin": 145e3, "to_mass": 134.0,
    "to_outdoors": 16.0, "to_neighbours": 300.0, "radiant": 0.62,
})  # fmt: skip
"""A light room as a record now and then has it: a mass that follows the air within twenty minutes."""


def _driven(cost, hours=16, room=KNOWN, ahead=True):
    """A known room, known without noise, switched by the search: K²·min a day, and what its best even cycle costs.

    Without `ahead` the power that holds the air is reckoned as if its mass stood still.
    """
    plans = plans_of(room, WATTS, 0.1, 5, 5, cost)
    state, inputs, on, last = (
        np.array([300.0, 20.0, 19.0, 20.0, 0.0, 0.0]),
        np.array([0.0, -2.0, 20.0, 0.0]),
        False,
        -9,
    )
    squares, switches, duty = 0.0, 0, 0.0
    for k in range(hours * 60 + 480):
        off = plans.near.free(state, inputs) - 20.0
        minutes = plans.horizon if ahead else 0.0
        hold = float(np.clip(holding_watts(room, 20.0, state, inputs, minutes), 0.0, WATTS))
        found, row = plans.search.best(off, on, WATTS, hold, cost, max(0, 5 - (k - last)))
        if found.minutes[row, 0] == 0:
            on, last = not on, k
            switches += k >= 480
        inputs[0] = WATTS * on
        state = plans.a @ state + plans.b @ inputs
        if k >= 480:
            squares += (state[AIR] - 20.0) ** 2
            duty += on / (hours * 60)
    per_minute, _ = plans.cycles.at(duty)
    return squares + cost * switches, per_minute * hours * 60, switches


@pytest.mark.parametrize("cost", [0.1, 2.0])
def test_the_search_comes_near_the_best_even_cycle(cost):
    """With the room known it costs at most a tenth more than the bound that no switching beats in the long run."""
    mine, bound, _ = _driven(cost)
    assert mine < 1.1 * bound


def test_a_mass_that_follows_the_air_does_not_mislead_the_search():
    """In a room whose mass is soon as warm as its air, too; with the mass taken as it is now it swings by a kelvin."""
    mine, bound, switches = _driven(0.28, room=QUICK)
    assert mine < 1.2 * bound
    swung, _, fewer = _driven(0.28, room=QUICK, ahead=False)
    assert swung > 5.0 * mine
    assert fewer < switches


def test_minimum_times_are_kept_by_every_way():
    """No way switches sooner than the minimum times allow, after the first switching."""
    plans = plans_of(KNOWN, WATTS, 0.1, 5, 8, 0.3)
    for on_now in (True, False):
        ways = plans.search.ways(on_now, 16)
        gaps = np.diff(ways.minutes.astype(int), axis=1)
        inside = ways.minutes[:, 1:] < plans.search.end
        least = [8 if (k % 2 == 0) == on_now else 5 for k in range(gaps.shape[1])]
        assert (gaps >= np.array(least))[inside].all()


@pytest.mark.parametrize(
    ("on_now", "left", "most"), [(False, 4, 4), (False, 3, 2), (True, 4, 3), (True, 1, 1), (False, 1, 0)]
)
def test_every_on_of_a_night_keeps_its_off(on_now, left, most):
    """An ON needs two of what is left; a run that goes on into the night needs one."""
    assert allowed(on_now, left) == most


@pytest.mark.parametrize("on_now", [True, False])
def test_a_night_plan_is_no_worse_than_any_plan_of_one_run(on_now):
    """It is at least as good as the best of all single runs on its grid, simulated minute by minute."""
    plans = plans_of(KNOWN, WATTS, 0.1, 5, 5, 0.3)
    state, inputs = np.array([300.0, 20.2, 19.0, 20.2, 0.0, 0.0]), np.array([0.0, 3.0, 20.0, 0.0])
    off = plans.far.free(state, inputs) - 20.0
    hold = float(holding_watts(KNOWN, 20.0, state, inputs))
    times = plan(plans.far, Night(off, 480.0, 4, on_now, WATTS, hold, 0.3, 5.0), 0.7)
    assert len(times) <= allowed(on_now, 4)

    def error(switchings):
        now, total, on = state.copy(), 0.0, on_now
        for minute in range(480):
            on = on != (minute in switchings)
            now = plans.a @ now + plans.b @ np.array([WATTS * on, 3.0, 20.0, 0.0])
            total += (now[AIR] - 20.0) ** 2
        return total

    singles = [{start, start + length} for start in (60, 140, 226) for length in (30, 60, 90)]
    assert error({int(t) for t in times}) < min(error(one) for one in singles)


def test_a_history_comes_back_from_plain_data():
    """Through JSON and back it holds the same minutes, and takes more."""
    story = KnownRooms(house_of(control="hysteresis"), model=None).run(2)
    again = History.from_plain(story.house, json.loads(json.dumps(story.history.to_plain())))
    for name, column in story.history.rooms["study"].columns.items():
        np.testing.assert_array_equal(np.array(again.rooms["study"].columns[name]), np.array(column))
    again.add(story.moment(), story.observation(), story.result)


@pytest.mark.parametrize("spoil", [{"version": 2}, {"rooms": {"study": {"first": 0}}}, {"rooms": 3}])
def test_a_spoilt_history_is_refused(spoil):
    """ValueError, never a half-read record."""
    plain = History(house_of()).to_plain() | spoil
    with pytest.raises(ValueError, match=r"history|version|columns"):
        History.from_plain(house_of(), plain)


def test_a_history_forgets_after_six_days_and_bridges_holes():
    """Its arrays stay bounded; silence is NaN; a hole of a day begins it anew."""
    room = RoomHistory()
    for minute in range(MOST_MINUTES + 500):
        room.add(
            60.0 * minute + 40.0,
            Reading(20.0, 60.0 * minute + 35.0) if minute % 5 == 0 else None,
            300.0,
            1.0,
            20.0,
        )
    assert len(room) <= MOST_MINUTES + 60
    assert np.isnan(room.columns["celsius"]).mean() == pytest.approx(0.8, abs=0.01)
    room.add(60.0 * (MOST_MINUTES + 560), Reading(19.0), 0.0, 1.0, 20.0)
    room.add(60.0 * (MOST_MINUTES + 561), Reading(19.0), 0.0, 1.0, 20.0)
    assert room.first + len(room) == MOST_MINUTES + 561
    room.add(60.0 * (MOST_MINUTES + 3000), Reading(19.0), 0.0, 1.0, 20.0)
    room.add(60.0 * (MOST_MINUTES + 3001), Reading(19.0), 0.0, 1.0, 20.0)
    assert len(room) == 1
