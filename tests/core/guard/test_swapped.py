"""What another room's air tells of this heater, at the edges of each bound. Invented rooms."""

from dataclasses import replace

import pytest

from tests.core.guard.cases import NOW, case_of
from tests.core.guard.rooms import BESIDE, CODE, air_of, line, scene
from tests.stories.teller import PANEL
from thermostatd.core.guard.no_answer import swapped

HERE = [
    (NOW - 2900.0, 25.0),
    (NOW - 2880.0, 20.0),
    (NOW - 1000.0, 19.9),
]  # ran since an hour; twelve minutes settle it
THERE = [(NOW - 1500.0, 17.0), (NOW - 1200.0, 18.0), (NOW - 600.0, 19.0)]


def suspicious(*, celsius=19.75, there=None, beside=None, **change) -> bool:
    """Whether the study's column is suspected, whose air has sunk while the bedroom's held with its panel off."""
    case = scene(
        **{"trail": HERE} | change,
        others={"bedroom": air_of(**{"trail": THERE, "at": NOW - 900.0} | (there or {}))},
        heaters={"bedroom/panel": BESIDE | (beside or {})},
    )
    return swapped.suspects(case, celsius)


def test_air_that_sinks_under_heat_while_anothers_holds_is_suspicious():
    """A quarter of a kelvin under its most since the heat could show, and the other room as warm as 20 minutes ago."""
    assert suspicious() is True


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"celsius": 19.76}, False),
        ({"celsius": 19.6, "step": 0.3}, True),  # coarse: by more than one step
        ({"celsius": 19.68, "step": 0.3}, False),
        ({"on_since": NOW - 1499.0, "trail": [(NOW - 700.0, 20.0)]}, False),
        ({"on_since": NOW - 1500.0, "trail": [(NOW - 700.0, 20.0)]}, True),
        ({"on_since": None}, False),
        ({"trail": [(NOW - 2881.0, 25.0)]}, False),  # nothing is known since the heat could show
    ],
)
def test_a_suspicion_needs_heat_for_long_and_a_clear_fall(change, expected):
    """Twenty-five minutes of heat; a fall of a quarter of a kelvin and of more than one step of the sensor."""
    assert suspicious(**change) is expected


def test_without_air_nothing_is_suspected():
    """A spot has no air of its own."""
    case = case_of(key=PANEL, told_on=True, on_since=NOW - 3600.0)
    assert swapped.suspects(case, 19.0) is False


@pytest.mark.parametrize(
    ("there", "expected"),
    [
        ({"celsius": 17.99}, False),  # lower than 20 minutes ago
        ({"celsius": 18.5}, True),
        ({"celsius": None}, False),
        ({"at": NOW - 901.0}, False),
        ({"at": None}, False),
        ({"heard": False}, False),
        ({"trail": [(NOW - 1199.0, 17.0)]}, False),  # nothing is known of then
        ({"trail": [(NOW - 1200.0, 18.0)]}, True),
        ({"trail": []}, False),
    ],
)
def test_another_room_tells_only_by_fresh_air_that_holds(there, expected):
    """Heard within a quarter of an hour, and no lower than it was twenty minutes ago."""
    assert suspicious(there=there) is expected


@pytest.mark.parametrize(
    ("beside", "expected"),
    [
        ({"off_since": NOW - 1499.0}, False),
        ({"off_since": None}, False),
        ({"told_on": True}, False),
    ],
)
def test_a_room_tells_of_others_only_while_its_own_heat_is_long_off(beside, expected):
    """Twenty-five minutes after its own heater went off."""
    assert suspicious(beside=beside) is expected


def test_every_heater_of_the_other_room_has_to_rest():
    """Of two heaters in a room one that runs is enough to spoil what its air tells."""
    case = scene(second=True, others={"bedroom": air_of()}, heaters={"study/fan": BESIDE})
    case.memory.rooms["study"].air = air_of()
    other = replace(case, key="bedroom/panel", room=case.house.room("bedroom"))
    assert swapped.beside(other) == {}
    case.kept.told_on, case.kept.off_since = False, NOW - 1500.0
    assert set(swapped.beside(other)) == {"study"}
    case.memory.heaters["study/fan"].off_since = NOW - 1499.0
    assert swapped.beside(other) == {}


def beside(**others) -> dict:
    """What is noted of other rooms, all of whose heaters rest."""
    case = scene(others=others, heaters={f"{name}/panel": BESIDE for name in others})
    return swapped.beside(case)


def test_what_is_noted_beside_a_rest_is_each_rooms_air_and_its_slope():
    """By the trail of the last 1300 s, in thousandths; the room itself is not beside."""
    trail = [(NOW - 1301.0, 99.0), *line(18.12345, 0.6)]
    assert beside(bedroom=air_of(18.12345, trail=trail)) == {"bedroom": [18.123, 0.6]}
    rising = line(18.0, 0.12345)
    assert beside(bedroom=air_of(18.0, trail=rising)) == {"bedroom": [18.0, 0.123]}
    assert "study" not in beside(bedroom=air_of())


@pytest.mark.parametrize(
    "air",
    [
        air_of(None),
        air_of(at=NOW - 901.0),
        air_of(heard=False),
        air_of(trail=line(18.0, 0.0, since=300.0)),  # two points make no slope
    ],
)
def test_a_room_whose_air_is_not_known_well_is_not_noted(air):
    """Neither without a fresh value nor without a slope."""
    assert beside(bedroom=air) == {}
    assert beside(bedroom=air_of(at=NOW - 900.0)) == {"bedroom": [18.0, 0.0]}


def test_the_two_rooms_that_rise_most_are_noted():
    """Two are enough to say which follows this heater."""
    found = beside(
        attic=air_of(trail=line(18.0, 0.1)),
        bedroom=air_of(trail=line(18.0, 0.3)),
        cellar=air_of(trail=line(18.0, 0.2)),
    )
    assert list(found) == ["bedroom", "cellar"]


def bent(kept: dict, seconds: float = 1800.0, **others) -> tuple:
    """The room that has bent down most, all their heaters resting."""
    case = scene(others=others, heaters={f"{name}/panel": BESIDE for name in others})
    return swapped.most_bent(case, kept, seconds)


@pytest.mark.parametrize(
    ("kept", "now", "expected"),
    [
        ([18.0, 0.6], 18.0, 0.3),  # half an hour at +0.6 K/h would have been 18.3
        ([18.0, -0.2], 17.4, 0.5),
        ([18.0, 0.0], 18.0, None),
        ([18.0, 0.0], 18.5, None),
    ],
)
def test_a_bend_is_what_the_air_lacks_of_where_it_was_heading(kept, now, expected):
    """What it was, and its slope for the seconds of the rest, less what it is; no bend down is none."""
    name, kelvin = bent({"bedroom": kept}, bedroom=air_of(now))
    assert name == (None if expected is None else "bedroom")
    assert kelvin == pytest.approx(expected or 0.0)


def test_of_several_rooms_the_one_that_bent_most_is_named():
    """Whatever their order."""
    kept = {"attic": [18.0, 0.0], "bedroom": [18.0, 0.0], "cellar": [18.0, 0.0]}
    airs = {"attic": air_of(17.9), "bedroom": air_of(17.5), "cellar": air_of(17.7)}
    assert bent(kept, **airs) == ("bedroom", pytest.approx(0.5))
    assert bent({"cellar": [18.0, 0.0]}, **airs) == ("cellar", pytest.approx(0.3))


@pytest.mark.parametrize("air", [air_of(None), air_of(17.0, at=NOW - 901.0), air_of(17.0, heard=False)])
def test_a_room_that_fell_silent_has_not_bent_and_hides_no_other(air):
    """Only fresh air tells."""
    kept = {"attic": [18.0, 0.0], "bedroom": [18.0, 0.0]}
    assert bent(kept, attic=air, bedroom=air_of(17.8)) == ("bedroom", pytest.approx(0.2))
    assert bent({"attic": [18.0, 0.0]}, attic=air) == (None, 0.0)


def test_a_room_whose_heater_began_to_run_no_longer_tells():
    """Its air may be moved by that."""
    case = scene(others={"bedroom": air_of(17.0)}, heaters={"bedroom/panel": BESIDE | {"told_on": True}})
    assert swapped.most_bent(case, {"bedroom": [18.0, 0.0]}, 1800.0) == (None, 0.0)
    assert bent({}, bedroom=air_of(17.0)) == (None, 0.0)


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ({"latched": True, "swapped_with": "study"}, True),
        ({"latched": True, "swapped_with": "attic"}, False),
        ({"latched": True}, False),
        ({"latched": False, "swapped_with": "study"}, False),
        ({"swapped_with": "study"}, False),
        ({}, False),
    ],
)
def test_a_heater_is_held_where_another_latched_by_its_rooms_sensor(notes, expected):
    """Both of two swapped rooms stay off: the other's notes name this room."""
    assert (
        swapped.partner_latched(scene(heaters={"bedroom/panel": {"notes": {CODE: notes}}}), CODE) is expected
    )
    other = scene(heaters={"bedroom/panel": {"notes": {"else": notes}}})
    assert swapped.partner_latched(other, CODE) is False
