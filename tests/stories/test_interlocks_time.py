"""Interlocks that watch time, people and the program itself: trips when, then, clears."""

from tests.stories.teller import COLUMN, PANEL, SPOT, Plant, Story, study
from thermostatd.core.asking import AllOff, Out

SLEEPS = 'asleep = { from = "23:00", to = "06:30" }'
AWAKE_ONLY = 'may_run = ["awake", "asleep", "away"]'


def awake_only(**tables):
    """The study with a heater that may run while people are awake alone."""
    return study(house=SLEEPS, **tables).replace(AWAKE_ONLY, 'may_run = ["awake"]', 1)


def test_the_longest_run_ends_in_ten_minutes_of_rest():
    """After longest_run without a break: ten minutes off, then on again."""
    story = Story(study(heater='longest_run = "2 h"'))
    story.air["study"] = Plant(celsius=10.0, outdoor=-20.0, rise=45.0, tau=90000.0)
    off = story.until(lambda s: s.tripped("longest-run"), hours=3)
    assert 7200 <= off - 1000 <= 7210
    assert story.said("longest-run").safety
    on = story.until(lambda s: s.on(), hours=1)
    assert 600 <= on - off <= 620


def test_a_spot_ends_at_the_longest_run_and_tells():
    """A spot past its heater's longest_run ends, with a trouble; a later request runs again."""
    spot = SPOT.replace("watts = 900", 'watts = 900\nlongest_run = "30 min"')
    story = Story(study(more=spot), air=21.0).run(5)
    story.warm_me(80)
    story.run(31)
    assert story.code(PANEL) == "longest-run"
    assert "sewing table/panel/longest-run" in story.troubles()
    assert not story.run(40).on(PANEL)
    story.run(15)
    story.warm_me(20)
    assert story.run(1).on(PANEL)


def test_a_heater_that_may_not_run_asleep_is_off_from_the_hour_to_the_hour():
    """Off at 23:00, minimum run or not, and on again at 06:30."""
    story = Story(awake_only(heater='min_on = "60 min"'), "2026-01-12 22:50", air=18.0).run(2)
    assert story.on()
    story.at("23:00")
    assert story.code() == "not-allowed-now"
    story.steady = story.steady + 6 * 3600
    story.run(10)
    assert not story.on()
    story.at("06:30").run(2)
    assert story.on()


def test_a_heater_that_may_not_run_away_is_off_while_everyone_is_out():
    """Out at once, back at once."""
    story = Story(awake_only(), air=5.0).run(10)
    story.out()
    assert not story.run(1).on()
    assert story.code() == "not-allowed-now"
    story.cancel(Out)
    assert story.run(5).on()


def test_a_plug_without_a_timer_runs_only_while_people_are_awake():
    """Whatever may_run says."""
    plug = 'plug = { kind = "mqtt", tell = "a/set", shows = { topic = "a" }, no_self_off = "accepted" }'
    toml = study(house=SLEEPS).replace('plug = { kind = "simulated" }', plug)
    story = Story(toml, "2026-01-12 22:50", air=18.0).run(5)
    assert story.on()
    assert story.at("23:00").code() == "not-allowed-now"


def test_all_off_ends_everything_until_it_is_taken_back():
    """Every room and spot off at once, who said so is told, a request waits, Cancel brings rooms back, no spot."""
    story = Story(study(more=SPOT, heater='min_on = "60 min"'), air=18.0).run(5)
    story.warm_me(60)
    story.run(1)
    story.all_off("Ana")
    story.run(1)
    assert not story.on()
    assert not story.on(PANEL)
    assert "Ana" in story.result.orders[COLUMN].reason.sentence
    assert "Everything is off" in story.ask(21.0).sentence
    story.cancel(AllOff)
    story.run(6)
    assert story.on()
    assert not story.on(PANEL)


def test_all_off_holds_over_a_restart():
    """Until cancelled means over a power cut too."""
    story = Story(air=18.0).run(5)
    story.all_off()
    story.run(1).restart().run(30)
    assert story.code() == "all-off"


def test_a_start_waits_for_this_rooms_own_sensor_and_plug():
    """Off until both are heard; ten minutes of silence are told."""
    story = Story(air=18.0)
    story.plugs[COLUMN].report = lambda now: None
    story.run(5)
    assert story.code() == "starting"
    assert not story.troubles()
    story.run(6)
    assert "study/column/starting" in story.troubles()
    del story.plugs[COLUMN].report
    assert story.run(1).on()
    late = Story(air=18.0)
    late.run(5, study=None)
    assert late.code() == "starting"
    assert late.run(6).code() == "reading-missing"
    assert late.run(1, study=18.0).on()


def test_garbage_from_a_plug_is_not_hearing_it():
    """A contact state that is no yes or no, and a meter that says NaN, leave the plug unheard."""
    from thermostatd.core.values import PlugReport

    story = Story(air=18.0)
    story.plugs[COLUMN].report = lambda now: PlugReport(on="yes", watts=float("nan"), on_at="now", watts_at=None)
    assert story.run(5).code() == "starting"


def test_going_down_ends_everything():
    """Stopping: OFF for every plug, minimum run or not."""
    story = Story(study(heater='min_on = "60 min"'), air=18.0).run(5)
    story.stopping = True
    story.run(0.5)
    assert story.code() == "stopping"
    assert not story.plugs[COLUMN].on


def test_a_running_heater_counts_its_rest_from_before_a_restart():
    """A crash and a start within seconds do not switch a relay on again at once."""
    story = Story(air=18.0).run(10)
    down = story.steady
    story.restart(down_seconds=5)
    on = story.until(lambda s: s.on(), hours=1)
    assert on - down >= 290
