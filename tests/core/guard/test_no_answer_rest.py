"""What a rest tells, at the edges of each bound: 600 W that were on, a bound of a quarter of a kelvin. Invented."""

import pytest

from tests.core.guard.cases import NOW, case_of, good, trips
from tests.core.guard.rooms import BESIDE, CODE, RESTS, RUNS, air_of, scene
from tests.stories.teller import PANEL
from thermostatd.core.guard import no_answer
from thermostatd.core.values import Missing, Reading

RESTING = {
    "rest_for": 1800.0,
    "rest_celsius": 20.0,
    "rest_slope": 0.0,
    "bound": 0.25,
    "lift": 0.06,
    "lit_watts": 600.0,
    "beside": {},
    "others": [],
}
WENT_WELL = {"failed": 0, "answered_at": NOW, "told_at": NOW, "told_on_end": 1}
WEAKLY = {"failed": 0, "answered_at": NOW}
LATCHED_BESIDE = {"notes": {CODE: {"latched": True, "swapped_with": "study"}}}


def rested(notes=None, *, ago=1800.0, bedroom=None, **change):
    """The verdict on a rest that began so long ago, and the notes after it, save those of the rest itself.

    `bedroom` is the air of a room whose 18.0° had no slope as the rest began.
    """
    known = RESTING | {"resting_since": NOW - ago} | (notes or {})
    if bedroom is not None:
        known["beside"] = {"bedroom": [18.0, 0.0]}
        change = {"heaters": {"bedroom/panel": BESIDE}} | change | {"others": {"bedroom": air_of(bedroom)}}
    case = scene({name: one for name, one in known.items() if one is not None}, **RESTS | change)
    verdict, after = no_answer.judge(case), case.kept.notes[CODE]
    return verdict, {
        name: one for name, one in after.items() if name not in RESTING or name in ("beside", "others")
    }


@pytest.mark.parametrize(
    ("ago", "air", "ends"),
    [
        (1799.0, 20.0, False),
        (1799.0, 19.76, False),
        (1799.0, 19.75, True),
        (600.0, 19.75, True),
        (599.0, 19.0, False),
        (1800.0, 19.875, True),
    ],
)
def test_a_rest_ends_at_once_where_the_air_sags_and_else_after_half_an_hour(ago, air, ends):
    """By the whole bound after ten minutes, by half of it after thirty; until then it stays off."""
    verdict, notes = rested(ago=ago, air=air)
    assert verdict == (good(CODE) if ends else trips(CODE))
    well = WENT_WELL if air <= 19.75 else WEAKLY
    assert notes == (well if ends else {"resting_since": NOW - ago, "beside": {}, "others": []})


@pytest.mark.parametrize(
    ("slope", "air", "answered"),
    [(-0.5, 19.75, False), (-0.5, 19.625, True), (0.5, 20.125, True), (0.5, 20.2, False)],
)
def test_a_sag_is_counted_from_where_the_air_was_heading(slope, air, answered):
    """Half an hour at half a kelvin an hour is a quarter of a kelvin."""
    _, notes = rested({"rest_slope": slope}, air=air)
    assert notes["failed"] == (0 if answered else 1)


@pytest.mark.parametrize(
    ("rest_for", "ago", "ends"),
    [(3600.0, 3599.0, False), (3600.0, 3600.0, True), (None, 1800.0, True), (None, 1799.0, False)],
)
def test_a_paced_heater_rests_for_an_hour(rest_for, ago, ends):
    """As was noted when it began; by an earlier version half an hour."""
    verdict, _ = rested({"rest_for": rest_for}, ago=ago, air=19.85)
    assert verdict == (good(CODE) if ends else trips(CODE))


def test_a_rest_that_was_answered_takes_back_what_spoke_against_the_heater():
    """A failure before and the doubts of ordinary switchings."""
    verdict, notes = rested({"failed": 1, "cycles": {"doubt": 9.0, "gain": [1.0, 1.0]}}, air=19.75)
    assert verdict == good(CODE)
    assert notes == WENT_WELL | {"cycles": {"gain": [1.0, 1.0]}}


@pytest.mark.parametrize(
    ("cycles", "after"),
    [
        ({"doubt": 9.0, "gain": [1.0, 1.0]}, {"doubt": 4.5, "gain": [1.0, 1.0]}),
        ({"doubt": 1.0026}, {"doubt": 0.501}),
        ({}, {}),
    ],
)
def test_a_rest_that_was_answered_weakly_halves_what_spoke_against_the_heater(cycles, after):
    """Between half the bound and the whole: a cloud may have done as much, and it may soon be asked again."""
    verdict, notes = rested({"failed": 1, "cycles": cycles}, air=19.751)
    assert verdict == good(CODE)
    assert notes == WEAKLY | {"cycles": after}
    assert rested(air=19.8)[1] == WEAKLY


@pytest.mark.parametrize(
    ("air", "bedroom", "passed"),
    [
        (19.75, 17.9, True),
        (19.75, 17.75, False),  # both alike
        (19.75, 17.625, False),
        (19.75, 18.0, False),  # it has not bent at all: there was nothing to compare
    ],
)
def test_a_rest_clears_the_other_rooms_where_this_air_sagged_more(air, bedroom, passed):
    """Only where another room could have told."""
    verdict, notes = rested(air=air, bedroom=bedroom)
    assert verdict == good(CODE)
    assert notes == WENT_WELL | ({"passed_at": NOW} if passed else {})


def test_a_rest_without_others_clears_none():
    """Nobody was beside."""
    assert "passed_at" not in rested(air=19.5)[1]


def test_with_a_room_beside_a_rest_lasts_its_whole_time():
    """A sag alone does not tell whose heat it was."""
    assert rested(air=19.5, bedroom=17.9, ago=1799.0)[0] == trips(CODE)
    assert rested(air=19.5, bedroom=17.9, ago=1800.0)[0] == good(CODE)


@pytest.mark.parametrize(
    ("air", "bedroom", "swapped"),
    [
        (20.0, 17.75, True),  # as much as the bound
        (20.0, 17.76, False),
        (19.9, 17.75, True),
        (19.875, 17.75, True),  # twice as much as here
        (19.8125, 17.625, True),
        (19.75, 17.5, True),
    ],
)
def test_another_room_that_bends_clearly_more_has_this_heaters_sensor(air, bedroom, swapped):
    """By the bound at least, and twice as much as here: one such rest latches both."""
    verdict, notes = rested(air=air, bedroom=bedroom)
    assert verdict.latched is swapped
    assert notes["failed"] == (2 if swapped else 1)
    assert notes.get("swapped_with") == ("bedroom" if swapped else None)


def test_air_that_sagged_here_as_well_is_not_called_swapped_by_one_rest():
    """More than the bound here, and twice that there: another heater may have been switched there. A second decides."""
    verdict, notes = rested(air=19.7, bedroom=17.25)
    assert verdict == good(CODE)
    assert (notes["failed"], notes["swapped_with"]) == (1, "bedroom")
    assert rested({"failed": 1}, air=19.7, bedroom=17.25)[0].latched
    assert "swapped_with" not in rested({"swapped_with": "bedroom"}, air=20.0)[1]


@pytest.mark.parametrize(("air", "bedroom"), [(19.8125, 17.64), (19.75, 17.51), (19.875, 17.76)])
def test_another_room_that_bends_less_than_twice_as_much_says_nothing_against_an_answer(air, bedroom):
    """The nearer room answers, too, through an open door."""
    verdict, notes = rested(air=air, bedroom=bedroom)
    assert verdict == good(CODE)
    assert notes["failed"] == 0


def test_swapped_sensors_are_said_with_both_rooms_numbers():
    """The other room's name, and by how much each air changed."""
    verdict, notes = rested(air=19.9, bedroom=17.5)
    said = (
        "In a rest of this heater (600 W) this room's air changed by -0.1° against where it was heading, that of "
        "“bedroom” by -0.5°, with no heat there: the two sensors seem swapped."
    )
    assert verdict == trips(CODE, latched=True, trouble=True, evidence=said)
    assert notes == {"failed": 2, "swapped_with": "bedroom", "latched": True, "evidence": said}


def test_a_first_rest_that_is_not_answered_only_counts():
    """What answered before answers no more, and heat may be asked again."""
    verdict, notes = rested(
        {"answered_at": NOW - 50.0, "told_at": NOW - 50.0, "cycles": {"doubt": 9.0}}, air=19.88
    )
    assert verdict == good(CODE)
    assert notes == {"failed": 1}


@pytest.mark.parametrize(
    ("before", "on_end"),
    [
        ({}, 1),
        ({"told_at": NOW - 7 * 86400.0 + 1.0}, 2),
        ({"told_at": NOW - 7 * 86400.0 + 1.0, "told_on_end": 2}, 3),
        ({"told_at": NOW - 7 * 86400.0, "told_on_end": 2}, 1),
    ],
)
def test_rests_that_told_within_a_week_of_each_other_are_counted(before, on_end):
    """One that told weakly counts nothing, and one that failed ends the count."""
    assert rested(before, air=19.5)[1] == WENT_WELL | {"told_on_end": on_end}
    assert rested(before, air=19.8)[1] == WEAKLY | before
    assert rested(before, air=19.88)[1] == {"failed": 1}


def test_a_second_one_latches_and_says_what_was_seen():
    """Both numbers of the last trial, and how many there were."""
    verdict, notes = rested({"failed": 1, "answered_at": NOW - 50.0}, air=19.9)
    said = "600 W for an hour moved the air by +0.1°, its rest by -0.1°, 2 times over."
    assert verdict == trips(CODE, latched=True, trouble=True, evidence=said)
    assert notes == {"failed": 2, "latched": True, "evidence": said}


def test_what_has_latched_stays_until_the_owner_has_looked():
    """Whatever the air does, and wherever it is."""
    notes = {"latched": True, "evidence": "it was seen twice"}
    for case in (scene(notes, air=25.0), scene(notes, air=Missing("away"))):
        assert no_answer.judge(case) == trips(CODE, latched=True, trouble=True, evidence="it was seen twice")


@pytest.mark.parametrize(
    ("step", "ago", "held"),
    [(0.25, 1800.0, True), (0.25, 3599.0, True), (0.25, 3600.0, False), (0.24, 1800.0, False)],
)
def test_a_coarse_sensor_has_an_hour_before_its_air_counts_as_unmoved(step, ago, held):
    """From steps of a quarter of a kelvin on."""
    verdict, notes = rested(step=step, ago=ago)
    assert verdict == (trips(CODE) if held else good(CODE))
    assert ("failed" in notes) is not held


@pytest.mark.parametrize(
    ("heard", "ago", "air", "ends"),
    [
        (301.0, 1800.0, 20.0, False),
        (300.0, 1800.0, 20.0, True),
        (1500.0, 3000.0, 20.0, True),
        (1501.0, 3000.0, 20.0, False),
        (1700.0, 1800.0, 19.875, True),
        (1700.0, 1799.0, 19.8, False),
        (1790.0, 1800.0, 19.75, True),
    ],
)
def test_only_a_reading_made_at_its_end_fails_a_rest_and_any_made_in_it_may_pass_it(heard, ago, air, ends):
    """A sensor that speaks on change may say nothing for long; what it said so many seconds ago counts for then."""
    verdict, notes = rested(ago=ago, air=Reading(air, NOW - heard))
    assert verdict == (good(CODE) if ends else trips(CODE))
    assert ("failed" in notes) is ends


def test_a_sag_is_counted_to_when_it_was_heard_of():
    """The air was to fall by 0.5 K in the half hour, and by 0.25 K to the quarter after which it was heard of."""
    notes = {"rest_slope": -1.0}
    answered, _ = rested(notes, air=Reading(19.625, NOW - 900.0))
    assert answered == good(CODE)
    short, _ = rested(notes, air=Reading(19.626, NOW - 900.0))
    assert short == trips(CODE)


@pytest.mark.parametrize(
    ("window", "void"),
    [
        ({"since": NOW - 99.0}, True),
        ({"quiet_until": NOW - 7199.0}, True),
        ({"quiet_until": NOW - 7200.0}, False),
        ({"quiet_until": NOW + 600.0}, True),
        ({}, False),
    ],
)
def test_a_rest_that_fails_beside_an_open_window_is_void(window, void):
    """Within two hours of one; the heater's run begins anew from where the rest began."""
    verdict, notes = rested({"failed": 1}, window=window, air=20.125)
    assert verdict.latched is not void
    if void:
        assert verdict == good(CODE)
        run = {"since": NOW, "celsius": 20.0, "peak": 20.0, "slope": 0.0, "joules": 0.0, "lifted": False}
        assert notes == {"failed": 1, "run": run}


def test_a_rest_that_is_answered_beside_an_open_window_counts():
    """Air that sags does tell, whatever else is open."""
    assert rested(window={"since": NOW}, air=19.5)[1] == WENT_WELL


@pytest.mark.parametrize(
    ("noted", "fan_on", "void"),
    [([False], False, False), ([False], True, True), ([True], True, False), ([True], False, True)],
)
def test_a_rest_during_which_another_heater_of_the_room_was_switched_is_void(noted, fan_on, void):
    """The others have to stay as they were when it began."""
    verdict, notes = rested(
        {"others": noted}, air=19.5, second=True, heaters={"study/fan": {"told_on": fan_on}}
    )
    assert verdict == good(CODE)
    assert ("run" in notes) is void
    assert ("answered_at" in notes) is not void


def test_a_rest_noted_by_an_earlier_version_names_no_others():
    """Nothing noted means none."""
    assert rested({"others": None, "beside": None}, air=19.5)[1] == WENT_WELL


@pytest.mark.parametrize(
    "case",
    [scene(air=Missing("away"), **RUNS), case_of(key=PANEL, **RUNS)],
)
def test_where_no_air_is_known_nothing_is_judged(case):
    """A spot, and a room whose sensor is away."""
    assert no_answer.judge(case) == good(CODE)
    assert not case.kept.notes.get(CODE)


def test_a_heater_whose_dial_is_down_is_not_asked():
    """What was gathered against it ends; its latches do not."""
    notes = {"run": {"since": NOW}, "failed": 1, "cycles": {"doubt": 9.0}, "resting_since": NOW, "others": []}
    case = scene(notes | {"beside": {}, "told_at": 1.0}, more_notes={"meter": {"code": "dial-down"}})
    assert no_answer.judge(case) == good(CODE)
    assert case.kept.notes[CODE] == {"failed": 0, "cycles": {}, "told_at": 1.0}
    case = scene({}, more_notes={"meter": {"code": "dial-down"}})
    assert no_answer.judge(case) == good(CODE)
    assert case.kept.notes[CODE] == {}


def test_a_heater_is_held_while_the_one_with_its_sensor_is_latched():
    """A rest of its own ends; it trips without a trouble of its own."""
    for notes in ({"resting_since": NOW - 60.0}, {}):
        case = scene(notes, heaters={"bedroom/panel": LATCHED_BESIDE})
        assert no_answer.judge(case) == trips(CODE)
        assert case.kept.notes[CODE] == {}
