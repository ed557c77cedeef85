"""Cautions and changes at their edges: one more, one second, one letter."""

import pytest

from tests.core.house.houses import COLUMN, PANEL, PLUG, ROOM, house
from thermostatd.core.house.cautions import cautions
from thermostatd.core.house.changes import changes

FORBIDDEN = ((*COLUMN, "may_run"), ["awake", "away"])


def said(path, *changed):
    """What is said at a key."""
    return [caution.what for caution in cautions(house(*changed)) if caution.path == path]


def test_two_cold_steps_are_one_and_one_more():
    """Of one alone nothing more is said."""
    two = [{"at": "05:00", "celsius": 15}, {"at": "07:00", "celsius": 16}]
    assert "15 °C (and 1 more) is under" in said((*ROOM, "usual", 0, "celsius"), ((*ROOM, "usual"), two))[0]
    assert "15 °C is under" in said((*ROOM, "usual", 0, "celsius"), ((*ROOM, "usual"), two[:1]))[0]


def test_two_steps_that_hold_at_night_are_one_and_one_more():
    """Each on its own day: Monday's evening, and Tuesday's morning for all the nights until then."""
    two = [{"days": "mon", "at": "22:00", "celsius": 20}, {"days": "tue", "at": "10:00", "celsius": 19}]
    path = (*ROOM, "usual", 0)
    assert "20 °C from 22:00 (and 1 more) holds" in said(path, FORBIDDEN, ((*ROOM, "usual"), two))[0]
    assert "20 °C from 22:00 holds" in said(path, FORBIDDEN, ((*ROOM, "usual"), two[:1]))[0]


def test_a_room_without_a_heater_or_a_week_has_no_times_to_be_held_against():
    """Only what is missing is said."""
    bare = [((*ROOM, "control"), "proportional"), ((*ROOM, "heater"), [])]
    assert [caution.path for caution in cautions(house(*bare))] == [(*ROOM, "heater")]
    aimless = [((*ROOM, "control"), "predictive"), ((*ROOM, "usual"), []), FORBIDDEN]
    assert [caution.path for caution in cautions(house(*aimless))] == [(*ROOM, "usual")]


@pytest.mark.parametrize(("stale", "told"), [("60 min", False), ("3601 s", True)])
def test_a_reading_of_an_hour_is_not_too_old(stale, told):
    """A second more is."""
    path = (*ROOM, "sensor", "stale_after")
    assert bool(said(path, (path, stale))) is told


@pytest.mark.parametrize(
    ("ends", "switches", "control", "told"),
    [
        ("06:00", 15, "hysteresis", True),
        ("06:00", 16, "hysteresis", False),
        ("05:59", 16, "proportional", False),
        ("06:01", 16, "proportional", True),
        ("06:00", 2, "predictive", False),
    ],
)
def test_few_switchings_are_for_a_law_that_plans_them(ends, switches, control, told):
    """Two an hour; past midnight too."""
    quiet = [{"from": "22:00", "to": ends, "switches": switches}]
    path = (*ROOM, "quiet", 0, "switches")
    assert bool(said(path, ((*ROOM, "quiet"), quiet), ((*ROOM, "control"), control))) is told


@pytest.mark.parametrize(("may_run", "told"), [(["awake"], False), (["awake", "asleep"], True)])
def test_hours_in_which_nothing_may_run_spend_no_switchings(may_run, told):
    """The house sleeps through them."""
    quiet = ((*ROOM, "quiet"), [{"from": "22:00", "to": "06:00", "switches": 2}])
    path = (*ROOM, "quiet", 0, "switches")
    assert bool(said(path, quiet, ((*COLUMN, "may_run"), may_run))) is told
    sleepless = (("house", "asleep"), None)
    assert bool(said(path, quiet, sleepless, ((*COLUMN, "may_run"), ["awake"])))


@pytest.mark.parametrize(("unit", "volts", "told"), [("F", 230, True), ("F", 150, False), ("C", 230, False)])
def test_fahrenheit_where_people_read_celsius_is_doubted(unit, volts, told):
    """A sensor that says °C and is read as °F seems cold whatever the room is."""
    path = (*ROOM, "sensor", "unit")
    assert bool(said(path, (path, unit), (("house", "mains_volts"), volts))) is told


@pytest.mark.parametrize(
    ("may_run", "told"),
    [
        (["awake"], None),
        (["awake", "away"], "is away: with"),
        (["awake", "asleep", "away"], "is asleep and away: with"),
    ],
)
def test_radiant_heat_with_nobody_watching_is_told(may_run, told):
    """A spot's panel is for people who are there."""
    found = said((*PANEL, "may_run"), ((*PANEL, "may_run"), may_run))
    assert told in found[0] if told else not found


@pytest.mark.parametrize(("longest", "told"), [("4 h", False), ("14401 s", True)])
def test_a_spot_is_not_left_on_for_longer_than_people_stay(longest, told):
    """It can be asked for again while it runs."""
    path = ("spot", 0, "longest")
    assert bool(said(path, (path, longest))) is told


@pytest.mark.parametrize(("highest", "told"), [(2600, False), (2900, True)])
def test_a_selector_that_can_be_turned_up_past_the_plugs_rating_is_told(highest, told):
    """13 A at high mains are 2718 W at nominal (Ohm; 230 V, a tenth)."""
    rated = ((*COLUMN, "plug", "rated_amps"), 13)
    found = said((*COLUMN, "plug", "rated_amps"), rated, ((*COLUMN, "settings_watts"), [600, highest]))
    assert any("on its highest setting" in one for one in found) is told


@pytest.mark.parametrize(("frost", "told"), [(0, False), (0.5, True)])
def test_any_frost_target_over_nothing_needs_a_heater_that_may_run(frost, told):
    """At 0 °C nothing is held."""
    unattended = ((*COLUMN, "may_run"), ["awake", "asleep"])
    assert bool(said((*COLUMN, "may_run"), unattended, (("house", "frost_celsius"), frost))) is told


def test_a_simulated_plug_leaves_the_next_to_be_looked_at():
    """It has nothing to be cautious of."""
    real = {"name": "panel", "watts": 300, "circuit": "north", "may_run": ["awake", "asleep", "away"],
            "plug": {name: value for name, value in PLUG.items() if name != "power_on"}}  # fmt: skip
    simulated = ((*COLUMN, "plug"), {"kind": "simulated", "rated_amps": 16})
    assert said((*ROOM, "heater", 1, "plug", "power_on"), simulated, ((*ROOM, "heater", 1), real))


def test_sixty_letters_are_shown_whole():
    """One more is cut off at fifty-eight."""
    path = (*ROOM, "sensor", "topic")
    for length, shown in ((60, "t" * 60), (61, "t" * 58 + " …")):
        assert changes(house(), house((path, "t" * length))) == (f"study: sensor.topic study/air → {shown}",)


@pytest.mark.parametrize(
    ("watts", "shortest", "kind", "told"),
    [
        (1500, "5 min", "oil-filled", False),
        (1500, "6 min", "oil-filled", False),
        (1500, "7 min", "oil-filled", True),
        (1500, "10 min", "oil-filled", True),
        (590, "30 min", "oil-filled", False),
        (1500, "30 min", "convector", False),
    ],
)
def test_a_shortest_run_is_short_beside_what_opens_the_cut_out(watts, shortest, kind, told):
    """On full power it opens after about ten minutes (common practice, no published source); a low setting is stood."""
    path = (*COLUMN, "min_on")
    own = [((*COLUMN, "watts"), watts), ((*COLUMN, "kind"), kind), ((*COLUMN, "settings_watts"), []), (path, shortest)]
    found = said(path, *own)
    assert [f"in runs of {shortest} a usual such heater on 1500 W" in one for one in found] == [True] * told
