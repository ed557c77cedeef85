"""Whether heat is wanted for the coming minute, and what is told of it: settled plainly, or searched for."""

import json
from dataclasses import replace

import pytest

from tests.core.demand.round_rooms import LEAKY, WATTS, case, hush, plans, target, tracked
from tests.core.guard.cases import NOW
from tests.physics.thermal.rooms import KNOWN
from thermostatd.core.demand.predictive.planned import _decide, _fall, _until_fall
from thermostatd.core.values import Forecast
from thermostatd.physics.thermal.model import holding_watts


def decided(air=20.0, wish=None, *, room=None, made=None, notes=None, outdoor=0.0, celsius=None, **other):
    """What is wanted, the course that is told of it and the notes; 200 W leave the room at 20 °C and 0 °C outdoors."""
    notes = {} if notes is None else notes
    one = case(air if celsius is None else celsius, wish, notes=notes, **other)
    _decide(one, made or plans(LEAKY), room or tracked(air, outdoor=outdoor))
    return notes["want"], [celsius for _, celsius, _ in notes["outlook"]["course"]], notes


def course(made, room, power):
    """The told course of that power, W, at every minute's answer."""
    air = room.free(made.near, made.near_usual) + power * made.near.full
    return pytest.approx(air[[0, 4, 8, 12, 17, 21, 25, 29]], abs=6e-4)


@pytest.mark.parametrize(
    ("other", "share"),
    [
        ({}, 0.333),
        ({"base_watts": 50.0}, 0.25),
        ({"full_watts": 500.0}, 0.4),
        ({"full_watts": 0.0}, 0.333),
        ({"outdoor": 40.0}, 0.0),
        ({"outdoor": -80.0}, 1.0),
        ({"outdoor": 40.0, "base_watts": 50.0}, 0.0),
        ({"wish": target(17.0, 20.0, 5.0), "air": 17.0}, 0.333),
        ({"wish": target(17.0, 20.0, 300.0), "air": 17.0}, 0.258),
    ],
)
def test_the_share_is_what_holds_the_aim_now(other, share):
    """Of full power as metered, less what heats steadily; for a rise that is begun, at its target."""
    given = {"air": 20.0} | other
    assert decided(**given)[2]["share"] == share


def test_what_heats_steadily_helps_a_rise():
    """300 W of it beside 600 W are half as much again: 28 minutes become 18.7."""
    wish = target(17.0, 20.0, 300.0)
    for base, minutes in ((0.0, 28.0), (300.0, 18.7)):
        notes = decided(17.0, wish, made=plans(), base_watts=base)[2]
        assert notes["arrival"] == pytest.approx(minutes, abs=0.05)


def plain(notes_or_course, watts, room, made):
    """Whether a told course is that of so much power from now on, W."""
    air = room.free(made.near, made.near_usual) + watts * made.near.full
    return notes_or_course == pytest.approx(air[[0, 4, 8, 12, 17, 21, 25, 29]], abs=6e-4)


def settled(air=20.0, wish=None, *, made=None, room=None, **other):
    """Full power (True), none (False) or whatever was searched for (None), as wanted and told of."""
    made, room = made or plans(LEAKY), room or tracked(air, outdoor=0.0)
    want, course, _ = decided(air, wish, made=made, room=room, **other)
    told = {watts: plain(course, watts, room, made) for watts in (WATTS, 0.0)}
    assert not told[0.0 if want else WATTS]
    return want if any(told.values()) else None


@pytest.mark.parametrize(
    ("celsius", "air", "full"), [(19.19, 19.59, True), (19.2, 19.59, None), (19.19, 19.6, None)]
)
def test_a_room_far_too_cold_is_heated_without_a_search(celsius, air, full):
    """Over 0.8 K under its target as read, and over 0.4 K as followed."""
    assert settled(air, celsius=celsius) is full


@pytest.mark.parametrize(
    ("lead", "was_on", "hushed", "full"),
    [
        (30.0, False, None, True),
        (73.0, True, None, True),
        (100.0, True, None, False),
        (73.0, False, None, False),
        (100.0, True, hush(0.0, 300.0, 2), True),
        (100.0, True, hush(-5.0, 300.0, 2), True),
        (100.0, True, hush(-5.0, 300.0, 3), False),
        (100.0, True, hush(5.0, 300.0), False),
        (100.0, False, hush(-5.0, 300.0), False),
        (30.0, False, hush(-5.0, 300.0), True),
    ],
)
def test_a_rise_on_its_way_has_its_will(lead, was_on, hushed, full):
    """Full power or none; but in quiet hours what runs is not stopped where it could not be begun again."""
    rise = {"at": NOW + 60.0 * lead, "celsius": 20.0, "since": NOW - 600.0, "vain": False}
    wish, notes = target(17.0, 20.0, lead), {"rise": rise, "target": 17.0, "due": 9}
    assert settled(17.0, wish, was_on=was_on, hush=hushed, notes=notes) is full


def test_a_rise_that_was_let_go_of_leaves_no_room_colder_than_is_wanted_now():
    """Hours before it, under what is wanted until then, it is as if none came: half a kelvin under, that is heat."""
    for lead, low, full in ((100.0, 17.05, False), (100.0, 17.2, None), (100.0, 17.5, None), (30.0, 17.2, True)):
        rise = {"at": NOW + 60.0 * lead, "celsius": 20.0, "since": NOW - 600.0, "vain": False}
        given = {"made": plans(LEAKY), "room": tracked(17.0, outdoor=0.0)}
        notes = {"rise": rise, "target": low, "due": 0}
        assert settled(17.0, target(low, 20.0, lead), notes=dict(notes), **given) is full
        if full is None:
            wants = decided(17.0, target(low, 20.0, lead), notes=notes, **given)[0]
            assert wants == decided(17.0, target(low), **given)[0]
            assert wants or low < 17.5



def test_a_rise_that_is_near_is_searched_for_at_its_height():
    """The course levels off at it."""
    rise = {"at": NOW + 300.0, "celsius": 20.0, "since": NOW - 600.0, "vain": False}
    want, course, _ = decided(
        19.85, target(17.0, 20.0, 5.0), notes={"rise": rise, "target": 17.0}, was_on=True
    )
    assert want
    assert course == pytest.approx([20.0] * 8, abs=0.35)


@pytest.mark.parametrize(
    ("due", "was_on", "full"),
    [(0.0, False, True), (5.0, False, False), (0.0, True, False), (5.0, True, True)],
)
def test_a_quiet_night_goes_by_its_plan(due, was_on, full):
    """From its first second on, however cold the room is."""
    night = {"for": [was_on, 4, 20.0], "made": NOW, "times": [NOW + 60.0 * due]}
    for begins in (0.0, -60.0):
        notes = {"night": night}
        assert settled(18.0, was_on=was_on, hush=hush(begins, 400.0), notes=notes) is full
        assert notes["night"] == night


@pytest.mark.parametrize(("ago", "first"), [(60.0, 10.0), (540.0, 0.0)])
def test_a_night_is_planned_with_what_may_be_switched_at_the_soonest(ago, first):
    """A cold room is heated at once, or at the first instant after what is left of its heater's nine minutes."""
    made = plans(LEAKY, least_off=9)
    _, _, notes = decided(18.5, hush=hush(-5.0, 60.0), switched=NOW - ago, made=made)
    assert notes["night"]["times"][0] == NOW + 60.0 * first


def test_a_night_that_is_over_is_forgotten():
    """Its plan is not kept for the next."""
    for hushed in (None, hush(100.0, 400.0)):
        assert "night" not in decided(hush=hushed, notes={"night": {}})[2]


@pytest.mark.parametrize(
    ("begins", "was_on", "full"),
    [(1.0, False, False), (1.0, True, True), (9.0, False, True), (30.0, False, None)],
)
def test_before_a_quiet_night_its_last_run_comes_first(begins, was_on, full):
    """0.6 K over the target are ten minutes of 600 W here; in the last minute nothing is begun, cold or not."""
    assert settled(20.0, hush=hush(begins, 400.0), was_on=was_on) is full
    if full is False:
        assert settled(15.0, hush=hush(begins, 400.0)) is False


@pytest.mark.parametrize(
    ("air", "kelvin", "full"),
    [(19.5, 0.43, True), (19.5, 0.45, False), (19.79, 0.14, True), (19.81, 0.12, False)],
)
def test_after_a_rise_that_came_too_late_it_is_heated_on_until_the_store_carries_it(air, kelvin, full):
    """Full power while the air is over 0.2 K under the target and would peak over 0.06 K under it."""
    room = tracked(air, free=WATTS * kelvin / 12.0)
    late = {"at": NOW - 300.0, "celsius": 20.1, "since": NOW - 6000.0}
    assert (settled(air, room=room, made=plans(), notes={"arriving": late}) is True) is full
    assert settled(air, room=room, made=plans(), notes={}) is not True


SWITCHED = [
    (19.3, False, 60.0, {}, False),
    (19.3, False, 240.0, {}, False),
    (19.3, False, 300.0, {}, True),
    (19.3, False, None, {}, True),
    (19.3, False, 540.0, {"least_off": 10}, False),
    (19.3, False, 600.0, {"least_off": 10}, True),
    (19.3, False, 300.0, {"least_on": 10}, True),
    (20.45, True, 60.0, {}, True),
    (20.45, True, 300.0, {}, False),
    (20.45, True, None, {}, False),
    (20.45, True, 540.0, {"least_on": 10}, True),
    (20.45, True, 600.0, {"least_on": 10}, False),
    (20.45, True, 300.0, {"least_off": 10}, False),
]


@pytest.mark.parametrize(("air", "was_on", "ago", "least", "want"), SWITCHED)
def test_nothing_is_switched_within_its_minimum_time(air, was_on, ago, least, want):
    """On for `min_on`, off for `min_off` since the last switching; none known, and it is free."""
    switched = None if ago is None else NOW - ago
    assert decided(air, was_on=was_on, switched=switched, made=plans(LEAKY, **least))[0] is want
    fall = target(20.0, 15.0, 40.0)
    assert decided(air, fall, was_on=was_on, switched=switched, made=plans(LEAKY, **least))[0] is want


@pytest.mark.parametrize("made", [plans(LEAKY), plans(KNOWN, 3.0)])
@pytest.mark.parametrize("was_on", [False, True])
@pytest.mark.parametrize(("air", "ago", "base"), [(19.6, 9e3, 0.0), (20.3, 120.0, 0.0), (20.0, 9e3, 80.0)])
def test_else_the_cheapest_way_is_gone(made, was_on, air, ago, base):
    """The search's own, from where the air would be without power, over what is wanted."""
    room = tracked(air, store=100.0, outdoor=0.0, day=(0.0, 60.0), minute=700.0)
    given = {"was_on": was_on, "switched": NOW - ago, "base_watts": base}
    want, course, notes = decided(air, room=room, made=made, **given)
    free = room.free(made.near, made.near_usual) + base * made.near.full
    hold = float(holding_watts(made.constants, 20.0, room.state, room.inputs, made.horizon)) - base
    left = max(0.0, 5.0 - ago / 60.0)
    found, row = made.search.best(free - 20.0, was_on, WATTS, hold, made.switch_cost, left)
    air = free + WATTS * made.search.air(found, row, was_on)
    assert want is (was_on != (int(found.minutes[row, 0]) == 0))
    assert [point[1] for point in notes["outlook"]["course"]] == course
    assert {round(float(value), 3) for value in air} >= set(course)


@pytest.mark.parametrize("made", [plans(LEAKY), plans(KNOWN)])
@pytest.mark.parametrize("was_on", [False, True])
@pytest.mark.parametrize(
    ("air", "ago", "lower", "minutes"), [(19.6, 9e3, 15.0, 40.0), (20.3, 120.0, 19.5, 60.0)]
)
def test_before_a_fall_its_last_switchings_are_weighed(made, was_on, air, ago, lower, minutes):
    """Those that end with the heat off by then, as wanted until then and falling after."""
    room = tracked(air, store=100.0, outdoor=0.0)
    wish = target(20.0, lower, minutes)
    want, course, _ = decided(air, wish, room=room, made=made, was_on=was_on, switched=NOW - ago)
    free = room.free(made.near, made.near_usual)
    off = free - _until_fall(made, _fall(made, room, 20.0), 20.0, minutes, lower)
    left = max(0.0, 5.0 - ago / 60.0)
    switch, answer = made.endings.best(off, was_on, WATTS, made.switch_cost, left, minutes)
    assert want is (was_on != switch)
    assert {round(float(value), 3) for value in free + WATTS * answer} >= set(course)


@pytest.mark.parametrize(
    ("minutes", "notes", "held"), [(60.0, {}, False), (60.1, {}, True), (40.0, {"falling": True}, True)]
)
def test_a_fall_is_planned_for_in_the_last_hour(minutes, notes, held):
    """Not before, and not while the air is still let fall from an earlier target: until then the room is held."""
    _, course, _ = decided(20.2, target(20.0, 10.0, minutes), notes=notes | {"target": 20.0})
    assert (course[-1] > 19.5) is held


def test_air_let_fall_is_not_caught_on_its_way():
    """In a room that falls to its target within the hour, heat comes only then."""
    want, course, notes = decided(20.0, 18.5, notes={"target": 20.0})
    assert notes["falling"] is True
    assert want is False
    assert course[:3] == sorted(course[:3], reverse=True)
    assert course[-1] == pytest.approx(18.5, abs=0.35)


def test_what_is_wanted_just_before_a_quiet_night_can_be_kept():
    """As all notes, it goes through JSON and back."""
    for was_on in (False, True):
        notes = decided(20.0, hush=hush(1.0, 400.0), was_on=was_on)[2]
        assert json.loads(json.dumps(notes)) == notes


@pytest.mark.parametrize(
    ("outdoor", "lower", "ends"), [(0.0, 19.7, True), (0.0, 19.75, False), (-20.0, 19.5, False)]
)
def test_a_fall_that_the_air_makes_in_ten_minutes_is_no_end_of_heating(outdoor, lower, ends):
    """At 0 °C outdoors 200 W leave, 0.27 K in eight minutes: the room is neither heaped with heat nor let go of."""
    _, course, _ = decided(20.0, target(20.0, lower, 30.0), outdoor=outdoor, was_on=True)
    assert (course[-1] < lower - 0.5) is ends
    if not ends:
        assert course == pytest.approx([20.0, 20.0, *[lower] * 6], abs=0.35)


def test_the_search_among_the_next_switchings_goes_by_the_weather_of_now():
    """A cold front that is forecast for this hour changes nothing in it."""
    plain = tracked(20.0, outdoor=0.0)
    front = replace(plain, forecast=Forecast((0.0, -30.0), 0.0))
    assert decided(room=front)[:2] == decided(room=plain)[:2]
