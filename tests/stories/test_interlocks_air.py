"""Interlocks that watch the air: trips when, then, clears."""

import pytest

from tests.stories.teller import COLUMN, Plant, Story, study
from thermostatd.core.asking import NO_END
from thermostatd.core.values import Missing

STATED = study(sensor=', stale_after = "10 min"')


def test_a_silent_sensor_ends_off_and_one_good_value_mends_it():
    """No value within stale_after: off at once, minimum run or not, told; one good value and it is over."""
    story = Story(STATED, air=18.0).run(30)
    assert story.on()
    went = story.until(lambda s: s.air.update(study=None) or not s.on(), hours=1)
    assert 590 <= went - (1000 + 30 * 60) <= 620
    assert story.code() == "reading-missing"
    assert story.said("reading-missing").safety
    assert "study/reading-missing" in story.troubles()
    story.run(10).run(1, study=18.0)
    assert not story.tripped("reading-missing")
    assert story.on()


def test_a_frozen_value_over_a_metered_run_of_two_hours_ends_off():
    """Messages come and say the same although heat enough for two steps came in: off, until the value moves."""
    story = Story(study().replace("watts = 600", "watts = 2000"), air=18.0)
    story.air["study"] = lambda s: 17.0 + 0.1 * min(10.0, (s.steady - 1000) // 120)
    found = story.until(lambda s: s.tripped("reading-missing"), hours=4)
    assert found - 1000 >= 7200
    assert not story.on()
    assert not story.troubles(), "a room in balance moves in its rest: it is not told at once"
    assert story.run(31).tripped("reading-missing")
    assert "unmoved" in story.troubles()["study/reading-missing"].evidence
    story.run(1, study=17.8)
    assert not story.tripped("reading-missing")
    assert not story.troubles()


def test_the_ceiling_holds_whatever_was_asked_and_clears_a_kelvin_under():
    """At the ceiling off, and on again only 1 K under it."""
    toml = study(room="ceiling_celsius = 22\ndifferential = 2.0\nhousehold = { highest = 22 }")
    story = Story(toml, air=20.0)
    story.ask(21.9)
    assert story.run(10).on()
    story.run(1.1, study=22.0)
    assert not story.on()
    assert story.code() == "ceiling"
    story.run(10, study=21.1)
    assert story.tripped("ceiling")
    story.run(1.1, study=21.0)
    assert not story.tripped("ceiling")
    assert story.run(10, study=20.5).on()


def test_overshoot_ends_a_run_and_clears_at_the_target():
    """0.6 K over the target with no rise due: off, minimum run or not; clears at the target."""
    story = Story(study(heater='min_on = "30 min"'), air=19.0).run(2)
    assert story.on()
    story.run(1.1, study=20.59)
    assert story.on(), "held by its minimum run"
    story.run(1.1, study=20.6)
    assert story.code() == "overshoot"
    assert story.said("overshoot").safety
    story.run(5, study=20.1)
    assert story.tripped("overshoot")
    story.run(1.1, study=20.0)
    assert not story.tripped("overshoot")


def test_a_lower_request_ends_a_run_at_once():
    """Someone who asks for 2 K less does not wait for the minimum run to end."""
    story = Story(study(heater='min_on = "30 min"'), air=19.0).run(2)
    story.ask(17.0)
    story.run(1)
    assert not story.on()


def test_power_that_never_moves_the_air_latches_after_two_trials():
    """An hour of heat without a lift and half an hour's rest without a sag, twice: carried away."""
    story = Story(air=lambda s: 18.0 - 0.06 * s.steady / 3600)
    found = story.until(lambda s: s.tripped("no-answer") and s.said("no-answer").latched, hours=6)
    assert found - 1000 >= 2 * (3600 + 1800) - 60
    assert not story.on()
    assert "600 W" in story.troubles()["study/column/no-answer"].evidence


@pytest.mark.parametrize("step", [0.0, 0.1, 0.5])
def test_flat_air_at_full_power_on_a_cold_day_is_not_no_answer(step):
    """A heater too weak for the day still lifts what its rest would lose: it is never latched."""
    story = Story(study(heater='longest_run = "24 h"'), tick=30.0)
    story.air["study"] = Plant(celsius=16.0, outdoor=-14.0, rise=30.0, tau=36000.0, step=step)
    story.run(hours=30)
    assert not story.said("no-answer").latched
    assert story.happened("trouble") == 0
    assert story.air["study"].celsius > 14.0


@pytest.mark.parametrize(("outdoor", "rise"), [(5.0, 30.0), (12.0, 20.0)])
def test_one_that_answered_for_days_and_is_carried_away_is_found_within_a_day(outdoor, rise):
    """What ordinary switchings told before ends with heat that the air lacks; no old answer outlives a trial."""
    story = Story(tick=30.0)
    story.air["study"] = Plant(celsius=18.0, outdoor=outdoor, rise=rise, tau=36000.0, step=0.1)
    story.run(hours=36)
    assert not story.tripped("no-answer")
    assert "answered_at" in story.regulator._memory.heaters[COLUMN].notes["no-answer"]
    story.air["study"].rise, carried = 0.0, story.steady
    found = story.until(lambda s: s.tripped("no-answer") and s.said("no-answer").latched, hours=24)
    assert found - carried >= 2 * 3600


def test_every_bad_value_is_refused_and_named():
    """One that is no plausible number changes nothing but the reason; a second one, and the air is not known."""
    bad = [float("nan"), float("inf"), -float("inf"), 85.0, -127.0, 1e308, 10**400, True, "20.1", [20.0], {}]
    for value in bad:
        story = Story(STATED, air=18.0).run(5)
        story.run(1, study=value)
        assert story.result.rooms["study"].air.celsius == 18.0
        assert story.happened("reading-refused") == 1, value
        assert story.on()
        story.run(1)
        assert not story.on(), value
        said = story.result.rooms["study"].air
        assert isinstance(said, Missing)
        assert 0 < len(said.why) <= 120


@pytest.mark.parametrize("value", [62.0, 75.0, -127.0, float("nan")])
def test_a_sensor_that_goes_wrong_takes_the_heat_away_in_minutes(value):
    """The last good value, from before it went wrong, is no proof that the room is cold, however seldom it speaks."""
    story = Story(STATED, air=18.0).run(30)
    assert story.on()
    wrong = story.run(seconds=story.tick, study=value).steady
    off = story.until(lambda s: not s.on(), hours=0.2)
    assert off - wrong <= 180.0 + story.tick


def test_one_wrong_value_costs_nothing():
    """Sensors spit out one now and then."""
    story = Story(STATED, air=18.0).run(30)
    assert story.on()
    story.air["study"] = 85.0
    story.until(lambda s: s.happened("reading-refused") == 1, hours=0.1)
    story.air["study"] = 18.0
    for _ in range(30):
        story.step()
        assert story.on()


def test_three_good_values_are_needed_after_an_implausible_one():
    """After −127 and silence past stale_after, the third good value mends it, not the first."""
    story = Story(STATED, air=18.0).run(5).run(12, study=-127.0)
    assert not story.on()
    story.air["study"] = 18.0
    story.until(lambda s: s._sensed_at == s.steady - s.tick, hours=0.1)
    assert story.tripped("reading-missing")
    story.run(1)
    assert story.tripped("reading-missing")
    story.run(1)
    assert not story.tripped("reading-missing")


def test_a_jump_of_ten_kelvin_at_once_is_refused_until_it_stays():
    """A single leap is refused; a sensor that stays there is believed after three more."""
    story = Story(STATED, air=18.0).run(5)
    story.run(1, study=29.0)
    assert story.result.rooms["study"].air.celsius == 18.0
    story.run(1, study=18.1)
    assert story.result.rooms["study"].air.celsius == 18.1
    story.run(5, study=28.2)
    assert story.result.rooms["study"].air.celsius == 28.2


def test_a_sensor_that_speaks_seldom_is_waited_for_once_that_is_learned():
    """A sensor with an even gap of 18 minutes is not cut off after its first gaps."""
    story = Story(air=18.0, sensor_every=18 * 60.0)
    story.air["study"] = Plant(celsius=17.0, rise=40.0)
    story.run(hours=2)
    events = len(story.events)
    story.run(hours=12)
    assert not [event for event in story.events[events:] if event[1] == "trouble"]


@pytest.mark.parametrize("threshold", [0.1, 0.2])
def test_a_sensor_that_reports_changes_alone_is_not_cut_off_in_a_steady_room(threshold):
    """Silence of a room that holds still is no fault: a day of it brings no trouble once learned."""
    story = Story(study(room='control = "proportional"'), tick=30.0)
    plant = Plant(celsius=18.0, outdoor=5.0, dead=600.0)
    told = {"last": None}

    def on_change(_):
        if told["last"] is None or abs(plant.celsius - told["last"]) >= threshold:
            told["last"] = round(plant.celsius, 2)
            return told["last"]
        return None

    story.air["study"] = on_change
    story.sensor_every = 30.0

    def live(now, story=story):
        plant.live(now, story.tick, story.plugs[COLUMN].on)

    original = story.plugs[COLUMN].live
    story.plugs[COLUMN].live = lambda now: (original(now), live(now))
    story.run(hours=12)
    learned = story.happened("trouble")
    story.run(hours=24)
    assert story.happened("trouble") - learned <= 1
    assert abs(plant.celsius - 20.0) < 1.0


TWO = study(heater='longest_run = "24 h"', more="""
[[room]]
name = "den"
sensor = { topic = "den/air" }
usual = [{ days = "daily", at = "00:00", celsius = 20 }]
[[room.heater]]
name = "panel"
watts = 600
circuit = "north"
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
""")  # fmt: skip


def _two_rooms(step: float = 0.1, swapped: bool = True, outdoor: float = -5.0) -> tuple[Story, list[Plant]]:
    """Two rooms of one house, each first order with a lag; their sensors may lie in each other's room."""
    story = Story(TWO, tick=60.0)
    rooms = [Plant(19.0, outdoor, 40.0, 36000.0, 900.0, key=key, step=step) for key in (COLUMN, "den/panel")]
    rooms[1].celsius, rooms[1].rise = 19.4, 36.0
    told = rooms[::-1] if swapped else rooms
    story.air["study"], story.air["den"] = told
    return story, rooms


def _longest_too_warm(story: Story, rooms: list[Plant], hours: float) -> float:
    """The longest that either room is truly 1.5 K over its target, minutes on end."""
    longest, since, end = 0.0, story.steady, story.steady + 3600.0 * hours
    while story.steady < end:
        story.step()
        if max(room.celsius for room in rooms) < 21.5:
            since = story.steady
        longest = max(longest, story.steady - since)
    return longest / 60.0


def test_swapped_sensors_are_found_before_a_room_runs_away():
    """The heater whose room's air follows the other one stops, and so does the other; the trouble names both rooms."""
    story, rooms = _two_rooms()
    assert _longest_too_warm(story, rooms, 12) == 0.0
    evidence = next(trouble.evidence for trouble in story.troubles().values())
    assert "swapped" in evidence
    assert not story.on(COLUMN)
    assert not story.on("den/panel")


def test_swapped_sensors_with_coarse_steps_let_no_room_run_away():
    """With sensors of half a kelvin a step it takes longer to tell, and no room is far too warm for long meanwhile."""
    story, rooms = _two_rooms(step=0.5)
    assert _longest_too_warm(story, rooms, 24) < 30.0


@pytest.mark.parametrize("outdoor", [-18.0, 8.0])
def test_rooms_that_are_as_the_file_says_are_not_called_swapped(outdoor):
    """The same two rooms with their own sensors: nothing latches, on the coldest day either."""
    story, _ = _two_rooms(swapped=False, outdoor=outdoor)
    story.run(hours=30)
    assert not story.troubles()


@pytest.mark.parametrize(("switches", "rests"), [(4, True), (2, False)])
def test_a_rest_that_tells_waits_for_the_morning_where_no_start_is_left_after_it(switches, rests):
    """Air that does not answer: asked at once, or, where that would end the night's heat, after it."""
    quiet = f'quiet = [{{ from = "22:00", to = "06:00", switches = {switches} }}]'
    story = Story(study(room=quiet), "2026-01-12 21:50", air=lambda s: 18.0 - 0.06 * s.steady / 3600)
    story.ask(20.0, until=NO_END)
    assert any(story.run(1).tripped("no-answer") for _ in range(8 * 60)) is rests
    if not rests:
        assert story.on()
        story.until(lambda s: s.tripped("no-answer"), hours=3.0)
