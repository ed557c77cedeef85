"""Interlocks that go by the air, at the very edges of their bounds."""

from dataclasses import replace

import pytest

from tests.core.guard.cases import NOW, case_of, good, now_at, trips
from tests.stories.teller import PANEL, study
from thermostatd.core.guard import ceiling, overshoot, reading_missing
from thermostatd.core.memory import AirMemory
from thermostatd.core.reasons import reason
from thermostatd.core.results import Target
from thermostatd.core.values import Missing


@pytest.mark.parametrize(
    ("celsius", "before", "over"),
    [
        (26.9, None, False),
        (27.0, None, True),
        (27.0, False, True),
        (26.9, False, False),
        (26.5, True, True),
        (26.1, True, True),
        (26.0, True, False),
        (25.9, True, False),
    ],
)
def test_the_ceiling_trips_at_its_number_and_clears_one_kelvin_under_it(celsius, before, over):
    """At 27° it trips; once tripped it holds down to 26°, and the memory says which."""
    case = case_of(air=celsius, notes={} if before is None else {"ceiling": {"tripped": before}})
    said = ceiling.judge(case)
    assert said == (trips("ceiling", celsius=celsius, ceiling=27.0) if over else good("ceiling"))
    assert case.kept.notes["ceiling"]["tripped"] is over


LONG_OFF = {"off_since": NOW - 1800.0}


def hot(celsius, *, outdoors=None, outdoors_age=60.0, **kept):
    """A room over its ceiling, its heater told OFF half an hour ago."""
    case = case_of(air=celsius, **(LONG_OFF | kept))
    case.memory.outdoor = AirMemory(celsius=outdoors, at=NOW - outdoors_age, heard=outdoors is not None)
    return case


@pytest.mark.parametrize(
    ("celsius", "how", "trouble", "loud"),
    [
        (28.4, {"outdoors": 5.0}, False, False),
        (28.5, {"outdoors": 5.0}, True, False),
        (31.9, {"outdoors": 5.0}, True, False),
        (32.0, {"outdoors": 5.0}, True, True),
        (32.0, {"outdoors": 20.0}, True, True),
        (32.0, {"outdoors": 20.1}, False, False),
        (29.9, {}, False, False),
        (30.0, {}, True, False),
        (32.0, {"outdoors": 30.0, "outdoors_age": 7201.0}, True, True),
        (32.0, {"outdoors": 5.0, "off_since": NOW - 1799.0}, False, False),
        (32.0, {"outdoors": 5.0, "told_on": True, "on_since": NOW - 9000.0}, False, False),
    ],
)
def test_a_room_far_over_its_ceiling_though_its_heaters_are_off_is_told(celsius, how, trouble, loud):
    """A contact welded behind a plug without a meter; a summer's day is none, and a body still hot is none."""
    said = ceiling.judge(hot(celsius, **how))
    assert (said.tripped, said.trouble, said.loud) == (True, trouble, loud)
    assert bool(said.evidence) is trouble


def test_what_was_told_of_a_room_too_warm_stays_until_it_is_under_its_ceiling():
    """With the words of the first moment, so that nobody is told again and again."""
    case = hot(28.5, outdoors=5.0)
    first = ceiling.judge(case).evidence
    assert first == "It is 28.5°, though its heaters have long been told OFF."
    notes = {"ceiling": case.kept.notes["ceiling"]}
    assert ceiling.judge(case_of(air=27.1, notes=notes, **LONG_OFF)).evidence == first
    assert ceiling.judge(case_of(air=26.0, notes=notes, **LONG_OFF)) == good("ceiling")
    assert "evidence" not in notes["ceiling"]


@pytest.mark.parametrize("interlock", [ceiling, overshoot])
def test_a_spot_and_a_room_without_air_are_no_matter_of_the_airs_bounds(interlock):
    """What no air is known of is judged by others."""
    assert interlock.judge(case_of(key=PANEL)) == good(interlock.CODE)
    assert interlock.judge(case_of(air=Missing("away"))) == good(interlock.CODE)


def test_a_room_without_a_target_is_over_none():
    """No target, no overshoot."""
    assert overshoot.judge(case_of(air=26.0, target=None)) == good("overshoot")


@pytest.mark.parametrize(
    ("celsius", "before", "over"),
    [
        (20.5, None, False),
        (20.6, None, True),
        (20.59, False, False),
        (21.0, None, True),
        (20.7, False, True),
        (20.5, True, True),
        (20.1, True, True),
        (20.0, True, False),
        (19.0, True, False),
    ],
)
def test_overshoot_trips_six_tenths_over_and_clears_at_the_target(celsius, before, over):
    """0.6 K over trips; it clears at the target itself."""
    case = case_of(air=celsius, notes={} if before is None else {"overshoot": {"tripped": before}})
    said = overshoot.judge(case)
    assert said == (trips("overshoot", over=celsius - 20.0) if over else good("overshoot"))
    assert case.kept.notes["overshoot"]["tripped"] is over


def test_a_room_that_is_off_says_so_and_not_by_how_much_it_is_over():
    """Nobody asked for the 7 °C that frost allows."""
    off = Target(7.0, "Ana", "room-off")
    said = overshoot.judge(case_of(air=16.5, target=off))
    assert said == replace(trips("overshoot", over=9.5), reason=reason("room-off", target=7.0))
    assert overshoot.judge(case_of(air=7.0, target=off)) == good("overshoot")


PREDICTIVE = study(room='control = "predictive"')


@pytest.mark.parametrize(
    ("toml", "following", "ahead", "over"),
    [
        (PREDICTIVE, 23.0, 21600.0, False),
        (PREDICTIVE, 23.0, 21601.0, True),
        (PREDICTIVE, 23.0, 60.0, False),
        (PREDICTIVE, 16.0, 60.0, True),
        (PREDICTIVE, None, 60.0, True),
        (PREDICTIVE, 23.0, None, True),
        (study(), 23.0, 60.0, True),
        (PREDICTIVE, 22.0, 60.0, True),
    ],
)
def test_a_higher_step_within_six_hours_is_the_measure_where_a_law_preheats(toml, following, ahead, over):
    """Only a preheating law's next step, only if higher, and only within its longest lead."""
    at = NOW + ahead if ahead is not None else None
    case = case_of(toml=toml, air=22.8, target=Target(20.0, "usual", "usual", None, following, at))
    said = overshoot.judge(case)
    assert said.tripped is over
    if over:
        measure = 22.0 if following == 22.0 else 20.0
        assert said.reason.numbers == {"over": pytest.approx(22.8 - measure)}


@pytest.mark.parametrize(
    ("code", "ahead", "over"), [("out", 36000.0, False), ("out", 36001.0, True), ("asked", 36000.0, True)]
)
def test_while_everyone_is_out_the_measure_is_that_of_their_return_within_ten_hours(code, ahead, over):
    """A cold house takes longer to warm up than one that is used."""
    case = case_of(toml=PREDICTIVE, air=12.0, target=Target(7.0, "Ana", code, None, 20.0, NOW + ahead))
    assert overshoot.judge(case).tripped is over


def test_a_missing_reading_says_why_and_is_told_once_ten_minutes_have_passed_since_the_start():
    """The reason goes into the sentence; a sensor not heard yet has ten minutes before anyone is bothered."""

    def missing(**learned):
        return reading_missing.judge(case_of(air=Missing("a flat battery"), learned=learned))

    told = trips(
        "reading-missing", trouble=True, why="a flat battery", evidence="What is wrong: a flat battery."
    )
    quiet = trips("reading-missing", why="a flat battery", evidence="What is wrong: a flat battery.")
    assert missing() == told
    assert missing(heard=False, waiting_since=NOW - 600.0) == quiet
    assert missing(heard=False, waiting_since=NOW - 601.0) == told
    assert missing(heard=False, waiting_since=None) == quiet
    assert missing(heard=True, waiting_since=NOW - 5.0) == told


def test_a_room_without_any_word_of_its_air_was_never_heard():
    """No reading and no reason is the same as never heard."""
    said = reading_missing.judge(case_of(air=None))
    assert said == trips(
        "reading-missing", trouble=True, why="never heard", evidence="What is wrong: never heard."
    )


def test_a_spot_needs_no_reading():
    """A spot has no sensor."""
    assert reading_missing.judge(case_of(key=PANEL)) == good("reading-missing")


RUN = {"told_on": True, "on_since": NOW - 9000.0, "watts": 600.0, "watts_at": NOW, "shown_on": True}
FROZEN = {"value": 18.0, "since": NOW - 7200.0, "joules": 4.4e6, "count": 10}
STILL = {"celsius": 18.0, "unchanged_count": 14, "step": 0.5}


def frozen(notes=FROZEN, learned=STILL, now=None, **kept):
    """A metered run over which the value has not moved."""
    case = case_of(
        air=18.0, learned=learned, now=now, notes={"reading-missing": dict(notes)}, **{**RUN, **kept}
    )
    return case, reading_missing.judge(case)


@pytest.mark.parametrize(
    "change",
    [
        {"notes": FROZEN | {"since": NOW - 7199.0}},
        {"notes": FROZEN | {"joules": 3.99e6}},
        {"notes": FROZEN | {"joules": 4.0e6 - 6000.0}},
        {"learned": STILL | {"unchanged_count": 13}},
        {"learned": STILL | {"celsius": 18.1}},
        {"told_on": False},
        {"watts": 18.0},
        {"watts": None},
        {"watts_at": None},
        {"on_since": NOW - 100.0},
    ],
)
def test_a_value_is_called_frozen_only_where_every_bound_is_passed(change):
    """Two hours, two sensor steps' worth of heat, four messages, and evidence of power."""
    case, said = frozen(**change)
    assert said == good("reading-missing")
    assert "frozen_value" not in case.kept.notes["reading-missing"]


def test_a_value_that_stands_still_under_two_hours_of_heat_is_frozen_and_told_after_half_an_hour():
    """It trips at once, is told 1800 s later, holds while the value stands, and ends when it moves."""
    case, said = frozen()
    why = "it shows 18.0° unmoved after 2.0 hours of heating"
    assert said == trips("reading-missing", why=why, evidence=f"Messages come, but {why}.")
    notes = case.kept.notes["reading-missing"]
    assert (notes["frozen_value"], notes["frozen_since"], notes["hours"]) == (18.0, NOW, 2.0)
    later = frozen(notes, now=now_at(NOW + 1799.0), told_on=False)[1]
    assert (later.tripped, later.trouble) == (True, False)
    told = frozen(notes, now=now_at(NOW + 1800.0), told_on=False)[1]
    assert (told.tripped, told.trouble, told.reason.numbers["why"]) == (True, True, why)
    moved, said = frozen(notes, STILL | {"celsius": 18.2}, told_on=False)
    assert said == good("reading-missing")
    assert moved.kept.notes["reading-missing"] == {}


def test_a_coarse_sensor_is_called_frozen_by_half_degree_steps_at_most():
    """A step learned as two degrees asks for no more heat than one of half a degree."""
    assert frozen(learned=STILL | {"step": 2.0})[1].tripped
    assert frozen(FROZEN | {"joules": 1.0e6}, STILL | {"step": 0.1})[1].tripped
    assert not frozen(FROZEN | {"joules": 0.7e6}, STILL | {"step": 0.1})[1].tripped


def test_heat_is_summed_by_the_step_and_ten_minutes_at_most():
    """600 W for ten seconds are 6 kJ; a gap of an hour counts for ten minutes; another value starts the count anew."""
    case, _ = frozen(FROZEN | {"joules": 1000.0})
    assert case.kept.notes["reading-missing"] == FROZEN | {"joules": 7000.0}
    case, _ = frozen(FROZEN | {"joules": 0.0}, now=now_at(seconds=3600.0))
    assert case.kept.notes["reading-missing"]["joules"] == 360000.0
    case, _ = frozen({}, STILL | {"celsius": 19.0})
    assert case.kept.notes["reading-missing"] == {"value": 19.0, "since": NOW, "joules": 6000.0, "count": 14}
