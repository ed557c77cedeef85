"""No ON outlives its reason unseen, and no heater stays cold once its fault has ended."""

import pytest

from tests.stories.teller import COLUMN, PANEL, SPOT, Story, study
from thermostatd.core.asking import AllOff
from thermostatd.core.remembering import awaken
from thermostatd.core.values import Missing, PlugReport

BUTTON = 'by_hand = "allow for 2 h"'


def test_a_weld_is_told_off_again_and_again():
    """A plug that shows OFF and carries power is told OFF every half minute, for as long as it does."""
    story = Story(air=18.0).run(20)
    story.plugs[COLUMN].welded = True
    story.run(10, study=20.5)
    before = len(story.steps)
    story.run(20)
    told = [orders[COLUMN] for _, orders in story.steps[before:] if orders[COLUMN].retell]
    assert len(told) >= 35
    assert not any(order.on for order in told)


def test_a_plug_that_shows_nothing_is_told_off_until_it_must_have_lapsed():
    """Without a contact state a lost OFF is repeated while the last ON may still hold."""
    story = Story(study(heater="min_on = \"1 min\""), air=18.0)
    plug = story.plugs[COLUMN]
    plug.shows = False
    story.run(10)
    before = len(story.steps)
    story.run(10, study=20.5)
    off = [orders[COLUMN] for _, orders in story.steps[before:] if not orders[COLUMN].on]
    assert sum(order.retell for order in off) >= 1


def test_a_plug_that_opens_by_itself_is_told():
    """ON shown once, then OFF without a press: told again for two minutes, then paused, and a trouble."""
    story = Story(air=18.0)
    story.until(lambda s: s.plugs[COLUMN].on)
    story.run(seconds=10)
    plug = story.plugs[COLUMN]
    plug.turn(story.steady, False)
    plug.obeys = False
    story.run(5)
    assert "study/column/silent-plug" in story.troubles()
    plug.obeys = True
    story.run(40)
    assert story.on()
    assert "study/column/silent-plug" not in story.troubles()


def test_a_plug_that_just_came_back_was_not_pressed():
    """What a plug shows in the minutes after the way to it opened again is no press on its button."""
    story = Story(air=18.0).run(20)
    assert story.on()
    report = PlugReport(on=False, watts=0.0, back_at=story.steady)
    plug = story.plugs[COLUMN]
    plug.turn(story.steady, False)
    plug.report = lambda now: report
    story.run(seconds=10)
    del plug.report
    story.run(15)
    assert story.on()
    assert not [event for event in story.events if event[1].startswith("pressed")]


@pytest.mark.parametrize("known", [True, False])
def test_a_press_does_not_relight_a_spot_after_a_restart(known):
    """Whoever pressed ON may have gone: after a start only a new request brings heat."""
    story = Story(study(more=SPOT.replace("may_run", BUTTON + "\nmay_run")), air=21.0).run(5)
    story.press(True, PANEL).run(2)
    assert story.on(PANEL)
    story.restart(elapsed_known=known).run(5)
    assert not story.on(PANEL)


def test_all_off_ends_what_a_button_began():
    """After everything off, taking that back brings no heater on that someone had pressed ON."""
    story = Story(study(more=SPOT.replace("may_run", BUTTON + "\nmay_run")), air=21.0).run(5)
    story.press(True, PANEL).run(2)
    story.all_off()
    story.run(5)
    story.cancel(AllOff)
    story.run(5)
    assert not story.on(PANEL)


def test_a_fast_rise_is_seen_wherever_it_begins():
    """Twenty kelvins within ten minutes latch, also after a long calm."""
    story = Story(air=18.0)
    plug = story.plugs[COLUMN]
    plug.warm = 40.0
    story.run(57)
    for warm in range(43, 66, 3):
        plug.warm = float(warm)
        story.run(1)
    assert "study/column/warm-plug" in story.troubles()


def test_may_be_on_is_not_forgotten_by_a_restart():
    """A plug last known ON that went away is loud again after a start, until it shows its contact."""
    story = Story(air=18.0).run(20)
    plug = story.plugs[COLUMN]
    plug.online = False
    story.run(30)
    assert story.troubles()["study/column/silent-plug"].loud
    plain = awaken(story.regulator.memory)
    assert plain["heaters"][COLUMN]["maybe_on"]
    story.restart().run(30)
    assert story.troubles()["study/column/silent-plug"].loud
    plug.online = True
    story.run(5)
    assert "study/column/silent-plug" not in story.troubles()


def test_a_sensor_that_was_only_away_needs_one_value():
    """Three good values are asked after a false one; after mere absence one is enough."""
    story = Story(air=18.0).run(20)
    story.run(90, study=Missing("the sensor says that it is away", implausible=False))
    assert not story.on()
    story.run(3, study=18.0)
    assert story.on()


def test_an_old_failure_to_answer_is_forgotten():
    """A plug that has been there and off for six hours, with nothing wanted, has no trouble left."""
    story = Story(air=18.0)
    story.plugs[COLUMN].obeys = False
    story.run(10)
    assert "study/column/silent-plug" in story.troubles()
    story.plugs[COLUMN].obeys = True
    story.run(hours=7, study=21.0)
    assert "study/column/silent-plug" not in story.troubles()


def test_a_first_step_at_zero_counts_waiting():
    """A steady clock that begins at zero still tells of a plug that is never heard."""
    story = Story(air=18.0)
    story.steady = 0.0
    story.plugs[COLUMN].report = lambda now: None
    story.run(12)
    assert "study/column/starting" in story.troubles()


@pytest.mark.parametrize("odd", [[], "words", {"version": "one"}])
def test_a_memory_that_is_none_is_refused_plainly(odd):
    """What is no memory raises ValueError, which the daemon knows how to go on from."""
    with pytest.raises(ValueError, match="memory"):
        awaken(odd)


def test_a_memory_is_not_shared():
    """Going on from a memory leaves the caller's copy as it was."""
    story = Story(air=18.0).run(20)
    plain = story.regulator.memory
    before = repr(plain)
    Story(air=22.0, memory=plain).run(20)
    assert repr(plain) == before
