"""What a memory keeps, what it leaves out, and what a newly started process may still believe of it."""

import json

import pytest

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.facts import HeaterFacts, LevelFact, TripFact
from thermostatd.core.memory import (
    AirMemory,
    ChangeMemory,
    ClockMemory,
    ForecastMemory,
    HandMemory,
    HeaterMemory,
    Memory,
    PlacedMemory,
    RequestMemory,
    RoomMemory,
    TroubleMemory,
    WeekMemory,
)
from thermostatd.core.remembering import awaken, from_plain, to_plain
from thermostatd.core.tally import RoomTally

ASKED = RequestMemory("Ana", "direct", 5.0, 900.0, 905.0, 21.0, "20.0° Bo")
HEATER = HeaterMemory(
    told_on=True,
    told_at=100.0,
    lapses=1300.0,
    retold_at=110.0,
    on_since=100.0,
    off_since=50.0,
    heard=True,
    waiting_since=1.0,
    shown_on=True,
    shown_at=105.0,
    answered=True,
    unanswered_since=3.0,
    reachable=False,
    away_since=7.0,
    watts=600.0,
    watts_at=120.0,
    off_reports_over=1,
    meter_period=10.0,
    meter_gaps=4,
    volts=229.0,
    warm_celsius=31.0,
    warm_at=119.0,
    hand=HandMemory(False, 500.0, 505.0),
    settled_at=2.0,
    operations=3,
    on_seconds=20.0,
    facts=HeaterFacts(
        levels=[LevelFact(600.0, 5.0, 3, 1.0)], trips=[TripFact(1.0, 2.0, 3.0, 4.0)], trip_count=1
    ),
    body=BodyMemory(warmth=[1.0], lessons=[Lesson(1.0, [2.0], [3.0])]),
    placed=PlacedMemory("den", None, 600.0, "Bo", 1.0),
    notes={"warm-plug": {"at": 5.0}},
)
FULL = Memory(
    clock=ClockMemory(offset=5.0, last_steady=130.0, last_wall=135.0, candidate=6.0),
    outdoor=AirMemory(celsius=1.0, at=2.0),
    forecast=ForecastMemory([1.0, -2.5], 90.0),
    out=ASKED,
    all_off=ASKED,
    heaters={"study/column": HEATER},
    spots={"desk": ASKED},
    rooms={
        "study": RoomMemory(
            air=AirMemory(celsius=20.0, at=125.0, heard=True, waiting_since=1.0, trail=[(1.0, 20.0)]),
            request=ASKED,
            week=WeekMemory([[1.0, 2.0, 3.0]], "Ana", 4.0),
            window={"open": True},
        )
    },
    troubles={"house/clock": TroubleMemory(1.0, True, "It jumped.")},
    models={"study": {"gain_kelvin": 30.0}},
    changes=[ChangeMemory(1, 50.0, {"out": ASKED}, {"study": None}, {"study/column": None})],
    change_count=1,
)


def test_a_memory_comes_back_whole_by_way_of_json():
    """Every field of every part."""
    assert from_plain(json.loads(json.dumps(to_plain(FULL)))) == FULL
    assert from_plain(json.loads(json.dumps(to_plain(Memory())))) == Memory()
    assert from_plain(None) == Memory()


def test_what_is_as_at_the_start_is_left_out():
    """Save what other programs read there, and what says that nothing is."""
    plain = to_plain(
        Memory(rooms={"study": RoomMemory()}, heaters={"study/column": HeaterMemory(notes={"ceiling": {}})})
    )
    assert plain["heaters"]["study/column"] == {
        "hand": None,
        "placed": None,
        "maybe_on": False,
        "on_seconds": 0.0,
        "facts": {"trip_count": 0},
        "body": {},
        "notes": {},
    }
    assert plain["rooms"]["study"] == {"air": {}, "tally": {}, "request": None}
    assert (plain["version"], plain["out"], plain["spots"]) == (1, None, {})


@pytest.mark.parametrize(
    "plain",
    [
        {"rooms": {"study": {"air": {"trail": ["a", 1]}}}},
        {"rooms": [1]},
        {"heaters": {"a": {"body": {"lessons": 3, "fall": 1, "warmth": {"a": 1}}}}},
        {"heaters": {"a": {"facts": {"levels": 3}}}},
        {"changes": [{"number": 1, "ends": 1, "requests": {"out": ["a"]}}]},
        {"changes": 3},
    ],
)
def test_what_is_no_memory_is_refused_whatever_it_is(plain):
    """A ValueError, which the daemon knows how to tell; nothing else."""
    with pytest.raises(ValueError, match=r"."):
        from_plain(plain)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("reachable", False),
        ("shown_on", False),
        ("watts", 0.0),
        ("off_reports_over", 1),
        ("lapses", 1.0),
        ("told_at", 0.0),
    ],
)
def test_what_is_not_as_at_the_start_is_kept(field, value):
    """A False that is not the start's, a nothing that was measured."""
    plain = to_plain(Memory(heaters={"study/column": HeaterMemory(**{field: value})}))
    assert plain["heaters"]["study/column"][field] == value


BARE = RequestMemory("Ana", "direct", 5.0, 900.0, 905.0)


def test_a_request_is_kept_without_what_it_does_not_say():
    """Out, all off, at a spot, and in a room."""
    memory = Memory(out=BARE, all_off=BARE, spots={"desk": BARE}, rooms={"study": RoomMemory(request=BARE)},
                    changes=[ChangeMemory(1, 50.0, {"out": BARE})])  # fmt: skip
    plain = to_plain(memory)
    for kept in (plain["out"], plain["all_off"], plain["spots"]["desk"], plain["rooms"]["study"]["request"]):
        assert set(kept) == {"who", "origin", "asked_wall", "ends", "until_wall"}
    assert from_plain(plain) == memory


def test_notes_that_say_only_no_are_left_out():
    """A nothing that was measured is none of them."""
    notes = {"ceiling": {"tripped": False}, "overshoot": {"tripped": True}, "meter": {"since": 0.0}}
    plain = to_plain(Memory(heaters={"a/b": HeaterMemory(notes=notes)}))
    assert plain["heaters"]["a/b"]["notes"] == {"meter": {"since": 0}, "overshoot": {"tripped": True}}


def test_notes_stand_in_one_order():
    """Whichever interlock wrote first."""
    plain = to_plain(Memory(heaters={"a/b": HeaterMemory(notes={"z": {"x": 1}, "c": {"x": 2}, "q": {}})}))
    assert list(plain["heaters"]["a/b"]["notes"]) == ["c", "z"]


def test_a_memory_is_one_of_its_own():
    """What was read from is not written to."""
    plain = to_plain(FULL)
    before = json.dumps(plain)
    memory = from_plain(plain)
    memory.heaters["study/column"].notes["warm-plug"]["at"] = 9.0
    memory.rooms["study"].week.steps[0][0] = 9.0
    assert json.dumps(plain) == before
    to_plain(FULL)["models"]["study"]["gain_kelvin"] = 1.0
    assert FULL.models["study"]["gain_kelvin"] == 30.0


@pytest.mark.parametrize(
    ("plain", "why"),
    [
        ([], "this memory is no table"),
        ({"version": "one"}, "this memory names no version: it was not written by thermostatd"),
        ({"version": 2}, "this memory was written by a newer thermostatd: update the program"),
    ],
)
def test_what_cannot_be_read_says_why(plain, why):
    """In one sentence."""
    with pytest.raises(ValueError, match=rf"^{why}$"):
        from_plain(plain)


def test_a_memory_of_an_older_version_is_read():
    """A missing field takes its default, an unknown one is dropped, a missing version is the first."""
    memory = from_plain({"rooms": {"study": {"quiet_used": 3, "smell": "lilac"}}, "version": 0})
    assert memory.rooms["study"] == RoomMemory(quiet_used=3)
    assert from_plain({}) == Memory()
    assert memory.rooms["study"].tally == RoomTally()


def woken(**how):
    """The full memory as a newly started process finds it."""
    return from_plain(awaken(to_plain(FULL), **how))


def test_a_start_has_heard_nothing():
    """No plug and no sensor; every plug counts as told OFF, at the last step that was."""
    memory = woken()
    kept = memory.heaters["study/column"]
    assert (kept.heard, kept.waiting_since, kept.answered, kept.shown_on, kept.shown_at, kept.away_since) == (
        False,
        None,
        False,
        None,
        None,
        None,
    )
    assert (
        kept.watts,
        kept.watts_at,
        kept.off_reports_over,
        kept.told_at,
        kept.retold_at,
        kept.unanswered_since,
    ) == (None, None, 0, None, None, None)
    assert (kept.told_on, kept.on_since, kept.off_since, kept.operations, kept.maybe_on) == (
        False,
        None,
        130.0,
        4,
        True,
    )
    assert (kept.lapses, kept.meter_period, kept.notes, kept.facts, kept.body) == (
        1300.0,
        10.0,
        HEATER.notes,
        HEATER.facts,
        HEATER.body,
    )
    air = memory.rooms["study"].air
    assert (air.heard, air.waiting_since, air.celsius, air.at) == (False, None, 20.0, 125.0)
    assert memory.rooms["study"].request == ASKED
    assert memory.changes == []


def test_a_start_goes_on_with_spots_where_the_time_down_is_known():
    """It is, unless said otherwise."""
    assert set(woken().spots) == set(FULL.spots)
    assert FULL.spots
    assert woken(elapsed_known=False).spots == {}
    assert woken(brief=False).spots == {}


def test_a_start_believes_the_clock_anew():
    """The last wall time is all that is known; the clock may be set for a quarter of an hour."""
    assert woken().clock == ClockMemory(last_wall=135.0, settling_seconds=900.0)
    assert woken(settle_seconds=5.0).clock.settling_seconds == 5.0
    assert from_plain(awaken(None)).clock == ClockMemory(settling_seconds=900.0)


@pytest.mark.parametrize(("known", "spots"), [(True, {"desk": ASKED}), (False, {})])
def test_spots_end_where_the_time_down_is_unknown(known, spots):
    """Nobody is known to sit there now."""
    assert woken(elapsed_known=known).spots == spots


@pytest.mark.parametrize(
    ("told", "shown", "before", "operations", "off_since", "maybe"),
    [
        (False, True, False, 3, 50.0, True),
        (False, False, False, 3, 50.0, False),
        (False, None, True, 3, 50.0, True),
        (True, False, False, 4, 130.0, False),
    ],
)
def test_only_a_run_that_was_cut_counts_as_a_switching(told, shown, before, operations, off_since, maybe):
    """One that was shown ON may be on still."""
    memory = Memory(
        clock=ClockMemory(last_steady=130.0),
        heaters={
            "a/b": HeaterMemory(told_on=told, shown_on=shown, maybe_on=before, operations=3, off_since=50.0)
        },
    )
    kept = from_plain(awaken(to_plain(memory))).heaters["a/b"]
    assert (kept.operations, kept.off_since, kept.maybe_on) == (operations, off_since, maybe)


@pytest.mark.parametrize(("on", "kept"), [(True, False), (False, True)])
def test_a_press_to_on_ends_with_the_process_and_one_to_off_holds(on, kept):
    """Nobody is known to stand in front of it."""
    hand = HandMemory(on, 500.0, 505.0)
    memory = from_plain(awaken(to_plain(Memory(heaters={"a/b": HeaterMemory(hand=hand)}))))
    assert memory.heaters["a/b"].hand == (hand if kept else None)


@pytest.mark.parametrize(
    "level", [[600.0, 5.0, 3, 1.0], [600.0, 5.0], {"watts": 600.0, "spread_watts": 5.0, "count": 3}]
)
def test_a_level_is_read_from_a_whole_row_a_short_one_and_a_table(level):
    """As any version wrote it: what a row lacks takes its default."""
    memory = from_plain({"heaters": {"a/b": {"facts": {"levels": [level]}}}})
    found = memory.heaters["a/b"].facts.levels[0]
    assert (found.watts, found.spread_watts) == (600.0, 5.0)
    assert found.count == (1 if len(level) == 2 else 3)


@pytest.mark.parametrize("facts", [5, "odd", [1.0], {"levels": 5}, {"levels": [5]}])
def test_facts_that_are_none_are_refused(facts):
    """By a ValueError, whatever stands there."""
    with pytest.raises(ValueError, match="facts"):
        from_plain({"heaters": {"a/b": {"facts": facts}}})


def test_a_heater_that_is_no_table_is_refused():
    """By a ValueError too."""
    with pytest.raises(ValueError, match="heaters"):
        from_plain({"heaters": {"a/b": 5}})
