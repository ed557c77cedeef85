"""When a heater is asked by a rest: each cause, and each thing that forbids it, at the edges of its bound. Invented.

Rules: the run that is looked at has given 600 W for an hour, and this step ends that hour; its bound is 0.3 K.
"""

import numpy as np
import pytest

from tests.core.guard.cases import NOW, good, trips
from tests.core.guard.rooms import BESIDE, CODE, RESTS, air_of, line, scene
from thermostatd.core.guard import no_answer
from thermostatd.core.values import Reading

HOUR = {
    "since": NOW - 3600.0,
    "celsius": 20.0,
    "peak": 20.0,
    "slope": 0.0,
    "joules": 600.0 * 3590.0,
    "lifted": False,
    "heat_at": NOW - 10.0,
}
LIFTED = {"run": {"lifted": True}}
LONG = {"since": NOW - 7200.0, "joules": 600.0 * 7190.0}


def asked(notes=None, run=None, **change) -> dict | None:
    """The notes of the rest that began in this step; None where none did."""
    case = scene({"run": HOUR | (run or {})} | (notes or {}), **change)
    verdict, after = no_answer.judge(case), case.kept.notes[CODE]
    if "resting_since" not in after:
        assert verdict == good(CODE)
        assert "run" in after
        return None
    assert verdict == trips(CODE)
    return {name: one for name, one in after.items() if name != "cycles"}


def asks(*args, **change) -> bool:
    """Whether a rest began."""
    return asked(*args, **change) is not None


def test_an_hour_of_heat_without_a_lift_asks_where_nothing_told_that_the_heater_is_here():
    """The rest notes what it is to be judged by, and the run ends."""
    assert asked() == {
        "resting_since": NOW,
        "rest_for": 1800.0,
        "rest_celsius": 20.0,
        "rest_slope": 0.0,
        "bound": 0.3,
        "lift": 0.0,
        "lit_watts": 600.0,
        "beside": {},
        "others": [],
    }


def test_a_rest_notes_round_numbers():
    """Thousandths of a kelvin and tenths of a watt; the bound and the mean are those of the run."""
    found = asked(
        run={"celsius": 20.1, "joules": 543.21 * 3600.0 - 6000.0}, air=20.12345, trail=line(20.12345, 0.12345)
    )
    assert found["rest_celsius"] == 20.123
    assert found["rest_slope"] == 0.123
    assert found["bound"] == 0.272
    assert found["lift"] == 0.023
    assert found["lit_watts"] == 543.2


@pytest.mark.parametrize(("watts", "rest"), [(359.0, 3600.0), (360.0, 1800.0), (150.0, 3600.0)])
def test_a_paced_heater_is_to_rest_for_an_hour(watts, rest):
    """One that gave less than 60 % of its watts pauses for half an hour anyway."""
    assert asked(run={"joules": watts * 3600.0 - 6000.0})["rest_for"] == rest


PAUSED = {"on_since": NOW - 600.0}


@pytest.mark.parametrize(("on_since", "rest"), [(NOW - 3539.0, 3600.0), (NOW - 3540.0, 1800.0)])
def test_so_is_one_that_had_a_pause_in_the_last_hour(on_since, rest):
    """Its air and its sensor follow the pause for half an hour yet."""
    assert asked(on_since=on_since)["rest_for"] == rest


@pytest.mark.parametrize(
    ("before", "air", "slope"),
    [(20.5, 20.0, -0.5), (20.0, 20.0, 0.0), (19.9, 20.0, 0.0), (19.2, 20.0, None)],
)
def test_of_a_paced_heater_the_air_heads_where_it_did_over_heat_and_pauses(before, air, slope):
    """The fall of its last pause is not where the air is heading; nor is a rise, which the sun may have made."""
    trail = line(air, -2.0)
    found = asked(run={"celsius": before}, air=air, trail=trail, **PAUSED)
    assert (found and found["rest_slope"]) == slope
    fell = asked(run={"celsius": before}, air=air, trail=trail)
    assert slope is None or fell["rest_slope"] == -2.0


FLAT_THEN_DOWN = [(NOW - 2400.0 + 300.0 * n, 20.4) for n in range(4)] + line(19.9, -1.2)
DOWN_THEN_FLAT = [(NOW - 2400.0 + 300.0 * n, 20.8 - 0.2 * n) for n in range(4)] + line(20.0, 0.0)


@pytest.mark.parametrize(("trail", "last"), [(FLAT_THEN_DOWN, True), (DOWN_THEN_FLAT, False)])
def test_a_rest_is_judged_by_the_steeper_fall_of_the_last_forty_or_twenty_minutes(trail, last):
    """Least squares by numpy's polyfit over either stretch."""
    slopes = []
    for seconds in (2400.0, 1300.0):
        at, air = zip(*[(at, air) for at, air in trail if at >= NOW - seconds], strict=True)
        slopes.append(3600.0 * float(np.polyfit(np.array(at) - NOW, air, 1)[0]))
    assert (slopes[1] < slopes[0]) is last
    assert asked(trail=trail, window={}, air=20.0)["rest_slope"] == pytest.approx(min(slopes), abs=6e-4)


@pytest.mark.parametrize(
    ("trail", "slope"),
    [
        ([(NOW - 6900.0, 20.7), (NOW - 3300.0, 20.3), (NOW - 100.0, 20.0)], -0.371),
        ([(NOW - 7201.0, 25.0), (NOW - 3700.0, 20.3), (NOW - 100.0, 20.0)], -0.3),
        ([(NOW - 1400.0, 20.3), (NOW - 100.0, 20.0)], -0.831),
        ([(NOW - 1300.0, 20.3), (NOW - 100.0, 20.0)], 0.0),
        ([(NOW - 100.0, 20.0)], 0.0),
        ([], 0.0),
    ],
)
def test_of_a_sensor_that_speaks_seldom_the_last_two_hours_are_drawn_straight(trail, slope):
    """From its first word to its last one; what is nearer than twenty minutes tells no pace."""
    notes = asked(trail=trail)
    assert notes["rest_slope"] == pytest.approx(slope, abs=5e-4)


def test_a_rest_notes_the_rooms_beside_and_the_other_heaters_of_its_own():
    """What swapped sensors would show in, and whether others ran as it began."""
    others, bedroom = {"bedroom": air_of(18.0)}, {"bedroom/panel": BESIDE}
    assert asked(others=others, heaters=bedroom)["beside"] == {"bedroom": [18.0, 0.0]}
    fan = {"told_on": True, "on_since": NOW - 5000.0}
    assert asked(second=True, heaters={"study/fan": fan})["others"] == [True]
    assert asked(second=True)["others"] == [False]


@pytest.mark.parametrize(
    "change",
    [
        {"wanted": True} | RESTS,
        {"watts": 10.0, "watts_at": NOW - 10.0, "meter_period": 60.0},
        {"window": {"since": NOW - 100.0}},
        {"window": {"quiet_until": NOW - 7199.0}},
        {"unchanged": NOW - 3600.0},
        {"unchanged": NOW - 9999.0},
        {"on_since": NOW - 299.0},
        {"on_since": None},
        {"heater": 'min_on = "70 min"'},
        {"heater": 'min_on = "1 s"', "on_since": None},
        {"heaters": {"bedroom/panel": {"notes": {CODE: {"resting_since": NOW - 9.0}}}}},
        {"heaters": {"attic/panel": {"notes": {CODE: {"resting_since": NOW - 9.0}}}}},
        {"second": True, "heaters": {"study/fan": {"off_since": NOW - 1199.0}}},
        {"second": True, "heaters": {"study/fan": {"told_on": True, "on_since": NOW - 1199.0}}},
    ],
)
def test_a_rest_that_would_not_tell_is_not_begun(change):
    """Out of heat, beside a window, with a sensor that may be frozen, a run too short, or beside another's rest."""
    assert not asks(**change)


@pytest.mark.parametrize(
    "change",
    [
        {"window": {"quiet_until": NOW - 7200.0}},
        {"unchanged": NOW - 3599.0},
        {"unchanged": None},
        {"on_since": NOW - 300.0},
        {"heater": 'min_on = "60 min"'},
        {"heaters": {"bedroom/panel": {"notes": {CODE: {"resting_since": None}}}}},
        {"heaters": {"bedroom/panel": {"notes": {CODE: {"failed": 1}}}}},
        {"second": True, "heaters": {"study/fan": {"off_since": NOW - 1200.0}}},
        {"second": True, "heaters": {"study/fan": {"notes": {CODE: {"resting_since": NOW - 9.0}}}}},
        {"second": True, "on_since": NOW - 600.0},
        {"wanted": False},
    ],
)
def test_a_rest_that_would_tell_is_begun(change):
    """Just within each of those bounds; a rest in its own room looks like no other room's sag."""
    assert asks(**change)


@pytest.mark.parametrize(("age", "begins"), [(0.0, True), (300.0, True), (301.0, False)])
def test_a_rest_begins_with_a_fresh_reading(age, begins):
    """Where the air stands is to be known: a sensor that speaks on change is waited for."""
    assert asks(air=Reading(20.0, NOW - age)) is begins


def test_a_resting_heater_of_its_own_room_hides_no_other_rooms():
    """All others are looked at, whatever comes first."""
    rests = {"notes": {CODE: {"resting_since": NOW - 9.0}}}
    assert not asks(second=True, heaters={"study/fan": rests, "cellar/panel": rests})
    one = {"study/fan": {"off_since": NOW - 1200.0}, "bedroom/panel": {"off_since": NOW - 10.0}}
    assert asks(second=True, heaters=one)  # what was switched in another room leaves this one calm


@pytest.mark.parametrize(("joules", "expected"), [(150.0 * 3600.0, True), (149.9 * 3600.0, False)])
def test_a_heater_that_gave_little_is_not_asked(joules, expected):
    """Under 150 W in the mean the air does as much by itself."""
    assert asks(run={"joules": joules - 6000.0}) is expected


@pytest.mark.parametrize(
    ("seconds", "expected"), [(3599.0, False), (3600.0, True), (7799.0, True), (7800.0, True)]
)
def test_nothing_is_asked_before_an_hour(seconds, expected):
    """Of the run, not of the last switching."""
    assert asks(run={"since": NOW - seconds, "joules": 600.0 * seconds}) is expected


@pytest.mark.parametrize(("seconds", "expected"), [(7799.0, False), (7800.0, True)])
def test_a_value_that_has_not_moved_is_waited_for_longer(seconds, expected):
    """Two hours and ten minutes: until then another interlock may find that the sensor is frozen."""
    run = {"since": NOW - seconds, "joules": 600.0 * seconds}
    assert asks(run=run, unchanged=NOW - seconds) is expected


@pytest.mark.parametrize(
    ("run", "air", "expected"),
    [
        ({}, 20.1, True),  # 35 % of the bound are 0.105 K
        ({}, 20.11, False),
        ({"joules": 300.0 * 3600.0 - 6000.0}, 20.05, True),  # of 300 W the half
        ({"joules": 300.0 * 3600.0 - 6000.0}, 20.06, False),
        (LONG, 20.2, True),
        (LONG | {"since": NOW - 7199.0}, 20.2, False),
        (LONG | {"lifted": True}, 20.0, False),
        ({"lifted": True}, 20.0, False),
    ],
)
def test_a_lift_that_is_on_its_way_has_two_hours(run, air, expected):
    """A third or so of the bound after one hour; after two the whole."""
    assert asks(run=run | {"low": 20.0}, air=air) is expected


@pytest.mark.parametrize(("answered_at", "expected"), [(NOW - 86399.0, False), (NOW - 86400.0, True)])
def test_who_was_answered_within_a_day_is_not_asked_for_want_of_a_lift(answered_at, expected):
    """Neither by a first hour nor after one rest that failed."""
    for notes, run in (({}, {}), ({}, LONG), ({"failed": 1}, {"lifted": True})):
        assert asks(notes | {"answered_at": answered_at}, run) is expected


@pytest.mark.parametrize(("failed", "expected"), [(1, True), (0, False)])
def test_after_one_rest_that_was_not_answered_the_next_hour_asks_again(failed, expected):
    """Whatever the lift."""
    assert asks({"failed": failed}, {"lifted": True}) is expected
    assert not asks({"failed": failed}, {"lifted": True, "since": NOW - 3599.0})


@pytest.mark.parametrize(
    ("notes", "peak", "expected"),
    [
        ({}, 21.0, True),
        ({}, 20.99, False),
        ({"told_at": NOW - 43199.0}, 21.99, False),
        ({"told_at": NOW - 43199.0}, 22.0, True),
        ({"told_at": NOW - 43200.0}, 21.0, True),
    ],
)
def test_a_fall_by_a_kelvin_in_heat_asks_even_who_was_answered(notes, peak, expected):
    """Two kelvins within twelve hours of a rest that told; in a step without seconds nothing is forgiven."""
    run = {"lifted": True, "peak": peak, "joules": 600.0 * 3600.0}
    assert asks(notes | {"answered_at": NOW - 50.0}, run, seconds=0.0) is expected
    assert not asks(notes | {"answered_at": NOW - 50.0}, run | {"since": NOW - 3599.0}, seconds=0.0)


@pytest.mark.parametrize(("on_end", "times"), [(None, 1), (1, 1), (2, 2), (3, 4), (9, 4)])
def test_after_rests_that_told_on_end_the_next_is_asked_for_later(on_end, times):
    """After two twice as long, after three four times, by each cause that looks back; a far fall asks all the same."""
    told = {} if on_end is None else {"told_on_end": on_end}
    fallen = {"lifted": True, "peak": 21.0, "joules": 600.0 * 3600.0}
    for past, expected in ((-1.0, False), (0.0, True)):
        ago = NOW - 86400.0 * times - past
        assert asks(told | {"told_at": NOW - 86400.0, "answered_at": ago}) is expected
        ago = NOW - 43200.0 * times - past
        assert asks(told | {"told_at": ago, "answered_at": NOW - 50.0}, fallen, seconds=0.0) is expected
        assert asks(told | {"told_at": ago, "answered_at": NOW - 50.0}, COLD, target=22.0) is expected
    far = fallen | {"peak": 22.0}
    assert asks(told | {"told_at": NOW - 3600.0, "answered_at": NOW - 50.0}, far, seconds=0.0)


@pytest.mark.parametrize(("ago", "expected"), [(7 * 86400.0, True), (7 * 86400.0 - 1.0, False)])
def test_what_told_a_week_ago_leaves_no_patience(ago, expected):
    """Two days after it was last answered."""
    notes = {"told_at": NOW - ago, "told_on_end": 3, "answered_at": NOW - 2 * 86400.0}
    assert asks(notes) is expected


COLD = {"lifted": True, "since": NOW - 7200.0, "joules": 600.0 * 7190.0}


@pytest.mark.parametrize(
    ("notes", "run", "change", "expected"),
    [
        ({}, {}, {}, True),
        ({}, {}, {"target": 21.99}, False),
        ({}, {"celsius": 19.99}, {}, False),
        ({}, {"since": NOW - 7199.0}, {}, False),
        ({"told_at": NOW - 43199.0}, {}, {}, False),
        ({"told_at": NOW - 43200.0}, {}, {}, True),
        ({}, {}, {"target": None}, False),
    ],
)
def test_a_room_that_stays_far_too_cold_in_heat_asks_even_who_was_answered(notes, run, change, expected):
    """Two kelvins short, and no warmer after two hours; once in twelve hours."""
    case = {"target": 22.0} | change
    assert asks({"answered_at": NOW - 50.0} | notes, COLD | run, **case) is expected


@pytest.mark.parametrize(("doubt", "expected"), [(7.0, True), (6.9, False)])
def test_air_that_has_ceased_to_answer_asks_even_who_was_answered(doubt, expected):
    """After an hour of heat."""
    cycles = {
        "begun": NOW - 9e4,
        "at": NOW - 10.0,
        "heats": True,
        "heat": [1.0, 0.0, 0.0],
        "air": [20.0, 0.0],
        "sums": [0.0] * 4,
        "doubt": doubt,
    }
    notes = {"answered_at": NOW - 50.0, "cycles": cycles}
    assert asks(notes, {"lifted": True}) is expected
    assert not asks(notes, {"lifted": True, "since": NOW - 3599.0})


@pytest.mark.parametrize(
    ("run", "air", "expected"),
    [
        ({}, 21.0, False),
        ({}, 20.9, True),
        ({"peak": 21.5}, 21.25, False),
        ({"peak": 21.5}, 21.2, True),
        ({"slope": -0.5}, 20.5, False),
    ],
)
def test_air_that_a_run_has_plainly_warmed_asks_nothing_by_ceasing_to_rise(run, air, expected):
    """A kelvin over where it began or was heading, and no quarter of one under its peak: half of the doubt is left."""
    cycles = {"begun": NOW - 9e4, "at": NOW - 10.0, "heats": True, "heat": [1.0, 0.0, 0.0], "air": [air, 0.0],
              "sums": [0.0] * 4, "doubt": 8.0}  # fmt: skip
    case = scene({"run": HOUR | {"lifted": True} | run, "answered_at": NOW - 50.0, "cycles": cycles}, air=air)
    no_answer.judge(case)
    after = case.kept.notes[CODE]
    assert ("resting_since" in after) is expected
    assert after["cycles"]["doubt"] == (8.0 if expected else 4.0)


SUNK = [(NOW - 2000.0, 20.5), (NOW - 1000.0, 20.4)]


@pytest.mark.parametrize(
    ("notes", "expected"),
    [({}, True), ({"passed_at": NOW - 86399.0}, False), ({"passed_at": NOW - 86400.0}, True)],
)
def test_another_room_that_seems_to_get_the_heat_asks_before_the_hour_and_once_a_day(notes, expected):
    """The air has sunk under heat, and the bedroom's holds while its own heater is off."""
    found = asked(
        notes | {"answered_at": NOW - 50.0},
        {"since": NOW - 1800.0, "lifted": True},
        trail=SUNK,
        others={"bedroom": air_of(18.0)},
        heaters={"bedroom/panel": BESIDE},
    )
    assert (found is not None) is expected
    still = {"since": NOW - 1800.0, "lifted": True}
    assert not asks({"answered_at": NOW - 50.0}, still, trail=SUNK)  # nobody beside


def test_a_window_forbids_every_cause():
    """Falling air tells nothing then."""
    notes, run = {"failed": 1}, {"lifted": True, "peak": 25.0}
    suspicion = {"trail": SUNK, "others": {"bedroom": air_of(18.0)}, "heaters": {"bedroom/panel": BESIDE}}
    assert asks(notes, run, **suspicion)
    assert not asks(notes, run, window={"since": NOW - 9.0}, **suspicion)


def test_the_bound_is_never_under_a_seventh_of_a_kelvin():
    """0.15 K: of 200 W the hundred that 0.3 K for 600 W would make is too little to be seen. Half as much again where a
    paced heater is to rest for an hour."""
    assert asked(run={"joules": 200.0 * 3600.0 - 6000.0})["bound"] == 0.225
    assert asked(run={"joules": 320.0 * 3600.0 - 6000.0})["bound"] == 0.24
    assert asked(run={"joules": 420.0 * 3600.0 - 6000.0})["bound"] == 0.21
