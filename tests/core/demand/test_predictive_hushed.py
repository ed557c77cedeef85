"""The last run before quiet hours, and the few switchings within them."""

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, WATTS, case, hush, plans, target, tracked
from tests.core.guard.cases import NOW
from tests.physics.thermal.rooms import KNOWN
from thermostatd.core.demand.predictive import hushed
from thermostatd.core.demand.predictive.hushed import (
    LIMIT_KELVIN,
    Power,
    before_night,
    last_run_wants,
    night_wants,
)
from thermostatd.physics.thermal.model import AIR, POWER, holding_watts
from thermostatd.physics.thermal.quietly import Night, plan

PLANS = plans()
COST = 0.3
HOUSE = plans(KNOWN, COST)


def before(minutes, air=20.0, wish=None, *, notes=None, full=WATTS, ends=480.0, **other):
    """What is wanted so many minutes before quiet hours, and the notes after."""
    notes = {"falling": False} if notes is None else notes
    one = case(air, wish, hush=hush(minutes, ends), notes=notes, **other)
    return before_night(one, PLANS, tracked(air), full), notes


def test_nothing_special_is_wanted_without_quiet_hours_ahead():
    """None at all, or already within them."""
    assert before_night(case(notes={"falling": False}), PLANS, tracked(), WATTS) is None
    assert before(0.0, 15.0) == (None, {"falling": False})
    assert before(-1.0, 15.0) == (None, {"falling": False})


@pytest.mark.parametrize(
    ("minutes", "air", "full"), [(7.0, 20.0, WATTS), (13.0, 20.0, 300.0), (27.0, 18.0, WATTS)]
)
def test_the_last_run_begins_where_it_just_gets_on_top_by_the_quiet(minutes, air, full):
    """Full power to 0.6 K over the target, and a minute for the switching."""
    assert before(minutes + 0.1, air, full=full) == (None, {"falling": False})
    assert before(minutes - 0.1, air, full=full) == (True, {"falling": False, "topping": True})


def test_a_last_run_that_began_goes_on_to_the_end():
    """Even where the air is already on top."""
    assert before(30.0, 20.7, notes={"falling": False, "topping": True})[0] is True


@pytest.mark.parametrize(
    ("minutes", "air", "was_on", "wanted"),
    [
        (1.5, 20.1, True, True),
        (1.5, 20.1, False, False),
        (1.5, 20.19, True, True),
        (1.5, 20.2, True, False),
        (0.5, 20.3, True, False),
        (0.5, 15.0, False, False),
        (1.6, 20.2, True, True),
    ],
)
def test_in_the_last_minute_and_a_half_nothing_is_switched_on(minutes, air, was_on, wanted):
    """A run goes into the quiet where the air is less than 0.2 K over the target, and ends else."""
    assert before(minutes, air, was_on=was_on, notes={"falling": False, "topping": True})[0] is wanted


@pytest.mark.parametrize(
    ("coming", "at", "special"),
    [
        (17.0, 60.0, False),
        (17.0, 479.9, False),
        (17.0, 480.0, True),
        (17.0, None, True),
        (None, 60.0, True),
        (20.0, 60.0, True),
        (22.0, 60.0, True),
    ],
)
def test_a_night_with_a_fall_in_target_is_not_stored_for(coming, at, special):
    """Where the target falls before the quiet ends."""
    found, notes = before(5.0, 19.0, target(20.0, coming, at))
    assert found is (True if special else None)
    assert ("topping" in notes) is special


def test_air_that_is_let_fall_is_not_heated_for_the_night():
    """Nor is what was begun gone on with."""
    assert before(5.0, 19.0, notes={"falling": True, "topping": True})[0] is None


def goes_on(air, made, lead, ends, **room):
    """Whether the last run of a quiet night goes on for a rise to 20 °C in so many minutes, and the room."""
    here = tracked(air, **room)
    one = case(air, target(17.0, 20.0, lead), was_on=True, hush=hush(-300.0, ends, 1))
    hold = float(holding_watts(made.constants, 20.0, here.state, here.inputs))
    return last_run_wants(one, made, here, Power(WATTS, hold), 20.0), here, hold


def costs_of_ends(made, here, hold, until):
    """How far each minute's OFF leaves the air from 20 °C, lived minute by minute, K²·min."""
    costs = []
    for end in range(int(until) + 1):
        state, cost = here.state.copy(), 0.0
        for minute in range(int(until) + 60):
            power = WATTS if minute < end else (hold if minute >= until else 0.0)
            state = made.a @ state + made.b @ (here.inputs + power * np.eye(4)[POWER])
            cost += (state[AIR] - 20.0) ** 2 * min(1.0, 1.0 - (minute + 1 - until) / 60.0)
        costs.append(cost)
    return costs


@pytest.mark.parametrize("made", [plans(LEAKY), HOUSE])
@pytest.mark.parametrize(("lead", "ends"), [(30.0, 30.0), (90.0, 30.0), (10.0, 120.0), (60.0, 150.0)])
@pytest.mark.parametrize("air", [19.85, 20.4, 21.0, 21.6, 22.5])
def test_the_last_run_ends_where_its_off_leaves_the_room_nearest(made, lead, ends, air):
    """Until the later of the rise and the quiet's end; with an hour after that, in which heat is there again."""
    wanted, here, hold = goes_on(air, made, lead, ends, store=400.0, mass=19.5, outdoor=0.0)
    costs = costs_of_ends(made, here, hold, max(lead, ends))
    found = min(costs[3:]) if wanted else min(costs[:3])
    assert found <= 1.05 * min(costs)  # the plan's samples are ten minutes apart


def test_the_last_run_goes_on_until_the_air_is_warm_enough():
    """Within 0.2 K; and where nothing leaves it ends at once then."""
    assert goes_on(19.79, PLANS, 20.0, 20.0)[0]
    assert goes_on(18.0, PLANS, 20.0, 20.0)[0]
    assert not goes_on(20.0, PLANS, 20.0, 20.0)[0]


def night(
    *, was_on=False, notes=None, left=4, ends=480.0, soonest=0.0, made=HOUSE, wish=None, steady=NOW, air=20.2
):
    """Whether heat is wanted in a quiet night in a room of real constants, and the notes after."""
    notes = {"falling": False} if notes is None else notes
    room = tracked(air, store=300.0, mass=19.0, outdoor=3.0)
    one = case(air, wish, was_on=was_on, hush=hush(-10.0, ends, left), notes=notes, steady=steady)
    hold = float(holding_watts(KNOWN, 20.0, room.state, room.inputs))
    return night_wants(one, made, room, Power(650.0, hold), soonest), notes


def best(wanted=20.0, *, was_on=False, left=4, ends=480.0, soonest=0.0, least=5.0, air=20.2):
    """Steady seconds of the switchings of the best plan for that night; `wanted` °C at the far samples."""
    room = tracked(air, store=300.0, mass=19.0, outdoor=3.0)
    off = HOUSE.far.free(room.state, room.inputs) - wanted
    hold = float(holding_watts(KNOWN, 20.0, room.state, room.inputs))
    one = Night(off, ends, left, was_on, 650.0, hold, COST, least, soonest)
    return [NOW + 60.0 * minute for minute in plan(HOUSE.far, one, LIMIT_KELVIN)]


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"was_on": True},
        {"was_on": True, "left": 1},
        {"left": 1},
        {"left": 2},
        {"ends": 100.0},
        {"was_on": True, "ends": 300.0},
        {"air": 19.0, "soonest": 4.0},
        {"air": 19.0, "ends": 100.0},
        {"air": 21.0, "was_on": True, "soonest": 30.0},
    ],
)
def test_a_night_is_planned_with_what_is_left_of_it(given):
    """The best plan for the minutes and switchings that are left; noted with what it was made for, and when."""
    wanted, notes = night(**given)
    times = best(**given)
    was_on = given.get("was_on", False)
    assert notes["night"] == {"for": [was_on, given.get("left", 4), 20.0], "made": NOW, "times": times}
    assert wanted is (was_on != (bool(times) and times[0] <= NOW + 30.0))


def test_the_plans_of_these_nights_differ():
    """What is left, whether it is on and the soonest minute each make another one."""
    plain = best()
    others = [best(left=2), best(ends=100.0), best(was_on=True), best(soonest=60.0)]
    assert len({tuple(one) for one in [plain, *others]}) == 5
    assert best(air=21.0, was_on=True) != best(air=21.0, was_on=True, soonest=30.0)


@pytest.mark.parametrize(("least_on", "least_off"), [(100, 5), (5, 100)])
def test_the_longer_minimum_time_stands_between_all_switchings_of_a_night(least_on, least_off):
    """Whichever of the two it is."""
    _, notes = night(made=plans(KNOWN, COST, least_on, least_off))
    assert notes["night"]["times"] == best(least=100.0)
    assert best(least=100.0) != best(least=5.0)


FAR = HOUSE.far.minutes


@pytest.mark.parametrize(
    ("wish", "wanted", "left"),
    [
        (target(20.0, 17.0, 120.0), np.where(FAR > 120.0, 17.0, 20.0), 4),
        (target(20.0, 17.0, 119.0), np.where(FAR >= 120.0, 17.0, 20.0), 4),
        (target(20.0, 21.5, 300.0), np.where(FAR > 300.0, 21.5, 20.0), 2),
        (target(20.0, 20.3, 300.0), np.where(FAR > 300.0, 20.3, 20.0), 2),
        (target(20.0, 20.29, 300.0), np.where(FAR > 300.0, 20.29, 20.0), 4),
        (target(20.0, 17.0, None), 20.0, 4),
        (target(20.0, None, 120.0), 20.0, 4),
    ],
)
def test_a_step_within_the_night_is_wanted_from_its_time_on(wish, wanted, left):
    """A fall or a rise, where both its time and its height are known; a rise keeps an ON and its OFF."""
    _, notes = night(wish=wish)
    assert notes["night"]["times"] == best(wanted, left=left)
    assert best(np.where(FAR > 120.0, 17.0, 20.0)) != best() != best(np.where(FAR > 300.0, 21.5, 20.0))
    assert best(np.where(FAR > 120.0, 17.0, 20.0)) != best(np.where(FAR >= 120.0, 17.0, 20.0))


@pytest.mark.parametrize(
    ("at", "celsius", "kept"),
    [
        (470.0, 21.5, True),
        (500.0, 21.5, True),
        (1000.0, 21.5, False),
        (480.0, 20.35, False),
        (560.0, 40.0, True),
        (900.0, 40.0, False),
    ],
)
def test_a_rise_keeps_a_run_where_it_is_heated_for_before_the_quiet_ends(at, celsius, kept):
    """By the time that full power takes; one that cannot be met, from its own lead on."""
    wanted = np.where(at < FAR, celsius, 20.0)
    times = night(wish=target(20.0, celsius, at))[1]["night"]["times"]
    assert (times == best(wanted, left=2)) is kept
    assert (times == best(wanted, left=4)) is not kept


@pytest.mark.parametrize(("was_on", "left"), [(False, 0), (False, 1), (True, 0), (True, 1)])
def test_a_rise_keeps_no_more_than_there_is(was_on, left):
    """Where nothing is left to keep, nothing is switched on; what is on may end."""
    wanted, notes = night(wish=target(20.0, 21.5, 470.0), was_on=was_on, left=left)
    assert len(notes["night"]["times"]) <= (1 if was_on else 0)
    assert not wanted or was_on


@pytest.mark.parametrize(
    ("begins", "was_on", "left", "last"),
    [
        (-1.0, True, 1, True),
        (-1.0, True, 2, True),
        (-1.0, True, 3, False),
        (-1.0, False, 2, False),
        (5.0, True, 2, False),
    ],
)
def test_a_run_is_the_last_where_no_on_with_its_off_is_left_after_it(begins, was_on, left, last):
    """Its own OFF, an ON and that one's OFF are three."""
    assert case(20.0, was_on=was_on, hush=hush(begins, 300.0, left)).last_run is last
    assert case(20.0, was_on=was_on).last_run is False


def test_air_that_falls_freely_is_where_it_should_be():
    """Until it is under the target."""
    room = tracked(20.2, store=300.0, mass=19.0, outdoor=3.0)
    free = HOUSE.far.free(room.state, room.inputs)
    _, notes = night(wish=target(17.0), notes={"falling": True})
    assert notes["night"]["times"] == best(np.maximum(17.0, free)) != best(17.0)


def test_a_usual_days_heat_is_counted_on():
    """An evening's 400 W are not heated for a second time."""
    free = tracked(20.2, store=300.0, mass=19.0, outdoor=3.0, day=(0.0, 400.0), minute=700.0)
    notes = {"falling": False}
    one = case(20.2, hush=hush(-10.0, 480.0), notes=notes)
    hold = float(holding_watts(KNOWN, 20.0, free.state, free.inputs))
    night_wants(one, HOUSE, free, Power(650.0, hold), 0.0)
    off = free.free(HOUSE.far, HOUSE.far_usual) - 20.0
    expected = plan(HOUSE.far, Night(off, 480.0, 4, False, 650.0, hold, COST, 5.0, 0.0), LIMIT_KELVIN)
    assert notes["night"]["times"] == [NOW + 60.0 * minute for minute in expected] != best()


@pytest.mark.parametrize(
    ("times", "was_on", "wanted"),
    [
        ([], False, False),
        ([], True, True),
        ([0.0], False, True),
        ([0.0], True, False),
        ([-60.0], True, False),
        ([30.0], False, True),
        ([30.1], False, False),
        ([30.1], True, True),
        ([300.0, 0.0], False, False),
    ],
)
def test_a_switching_is_made_when_its_time_has_come(times, was_on, wanted):
    """Within half a minute; until then what was goes on."""
    kept = {"for": [was_on, 4, 20.0], "made": NOW - 60.0, "times": [NOW + one for one in times]}
    found, notes = night(was_on=was_on, notes={"falling": False, "night": kept, "topping": True})
    assert found is wanted
    assert notes == {"falling": False, "night": kept}


@pytest.mark.parametrize(
    ("made", "key", "again"),
    [
        (NOW - 299.9, [False, 4, 20.0], False),
        (NOW - 300.0, [False, 4, 20.0], True),
        (NOW, [True, 4, 20.0], True),
        (NOW, [False, 3, 20.0], True),
        (NOW, [False, 4, 20.01], True),
    ],
)
def test_a_plan_holds_five_minutes_or_until_something_is_not_as_planned(made, key, again):
    """Heat on or off, what is left, or the target to a hundredth."""
    kept = {"for": key, "made": made, "times": [NOW + 7.0]}
    _, notes = night(notes={"falling": False, "night": dict(kept)})
    assert notes["night"] == ({"for": [False, 4, 20.0], "made": NOW, "times": best()} if again else kept)
    _, notes = night(
        wish=20.304, notes={"falling": False, "night": kept | {"for": [False, 4, 20.3], "made": NOW}}
    )
    assert notes["night"]["times"] == [NOW + 7.0]


@pytest.mark.parametrize(("left", "minutes"), [(1, 480.0), (4, 480.0), (5, 384.0), (12, 160.0)])
def test_where_many_switchings_are_left_those_of_the_next_hours_are_planned(monkeypatch, left, minutes):
    """Four are placed at once: of twelve, those of a third of the night; else two runs would be spread over all of it,
    and a room stood a kelvin cold for hours with most of them unused."""
    planned = []
    monkeypatch.setattr(hushed, "plan", lambda course, one, limit: planned.append(one) or [])
    night(left=left)
    assert (planned[0].minutes_left, planned[0].switches_left) == (pytest.approx(minutes), left)
