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
from thermostatd.core.packing import flat, packed, unpacked
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


def test_a_bodys_rows_are_packed_and_come_back_the_same():
    """Base64 of RFC 4648, section 10: its own test vectors; thousandths in three bytes, most significant first."""
    foobar = [int.from_bytes(part, "big") / 1000.0 for part in (b"foo", b"bar")]
    assert packed(foobar) == "Zm9vYmFy"
    assert unpacked("Zm9vYmFy") == foobar
    rows = {"warmth": [57.511, 0.0, 16777.0], "most": [0.1, 0.25, 3.0], "opens": [277.4] * 11}
    shares = [0.00971, 0.99029]
    lesson = Lesson(1.0, [249.349, 244.86], [12.0, 0.001], 60.0)
    body = BodyMemory(**rows, weights=shares, fall=lesson, lessons=[lesson], odd=[lesson])
    plain = to_plain(Memory(heaters={"study/column": HeaterMemory(body=body)}))
    kept = json.loads(json.dumps(plain))["heaters"]["study/column"]["body"]
    assert {name: kept[name] for name in rows} == {name: packed(row) for name, row in rows.items()}
    assert kept["weights"] == packed(shares, 1e5)
    assert kept["odd"][0]["before"] == kept["fall"]["before"] == packed(lesson.before)
    assert from_plain(plain).heaters["study/column"].body == body


def test_warmth_that_is_proven_as_it_is_is_kept_once():
    """And comes back as two lists that change apart."""
    memory = Memory(heaters={"study/column": HeaterMemory(body=BodyMemory(warmth=[57.5], proven=[57.5]))})
    plain = to_plain(memory)
    assert plain["heaters"]["study/column"]["body"] == {"warmth": packed([57.5]), "proven": "warmth"}
    back = from_plain(plain)
    assert back == memory
    body = back.heaters["study/column"].body
    body.warmth[0] = 0.0
    assert body.proven == [57.5]


@pytest.mark.parametrize("row", [[1.0004], [-0.001], [16777.215], [float("nan")], [float("inf")]])
def test_a_row_that_packing_would_change_stays_as_it_is(row):
    """As does one of an older memory."""
    assert packed(row) is row
    plain = {"heaters": {"study/column": {"body": {"warmth": [1.0004, 2.0]}}}}
    assert from_plain(plain).heaters["study/column"].body.warmth == [1.0004, 2.0]


def test_a_trail_is_one_row_of_seconds_since():
    """And comes back as it was, to the last bit; where adding up would not give a time again, it stays as it is."""
    trail = [(1060.0, 17.384), (1360.0, 17.584), (1660.3, 17.6)]
    assert flat(trail[:2]) == [1060.0, 17.384, 300.0, 17.584]
    for one in (trail[:2], trail, [(0.1, 1.0), (1e9 / 3.0, 2.0)], []):
        memory = Memory(rooms={"study": RoomMemory(air=AirMemory(trail=one))})
        assert from_plain(json.loads(json.dumps(to_plain(memory)))).rooms["study"].air.trail == one
    assert flat([(1e16, 1.0), (1.5, 2.0)]) == [[1e16, 1.0], [1.5, 2.0]]


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


@pytest.mark.parametrize("text", ["Zm9vYm", "Zm9vYmE=", "no base64!"])
def test_a_row_that_is_none_is_an_error(text):
    """Never a number that nobody wrote."""
    with pytest.raises(ValueError, match=r"."):
        from_plain({"heaters": {"study/column": {"body": {"warmth": text}}}})


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


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (12.0, "12"),
        (-3.0, "-3"),
        (0.5, "0.5"),
        (-0.0, "-0.0"),
        (1e15, "1000000000000000.0"),
        (False, "false"),
    ],
)
def test_whole_numbers_are_written_as_such(value, written):
    """All but what would come back as another: a zero below zero, one too long to be whole to the last bit."""
    plain = to_plain(Memory(models={"study": {"one": value}}))
    assert json.dumps(plain["models"]) == f'{{"study": {{"one": {written}}}}}'
