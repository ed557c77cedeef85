"""What latches waits for the owner, over restarts too; and after the owner's word it can trip again."""

import pytest

from tests.stories.teller import COLUMN, Story, study
from thermostatd.core.asking import Accepted, Refused


def welded():
    """A plug whose contacts stay closed after OFF."""
    story = Story(air=18.0).run(20)
    story.plugs[COLUMN].welded = True
    return story.run(20, study=20.5)


def hot():
    """A plug at 75 °C that goes on telling so."""
    story = Story(air=18.0).run(20)
    story.plugs[COLUMN].warm = 75.0
    return story.run(1)


def dead():
    """A heater that has drawn nothing on four tries."""
    story = Story(air=18.0)
    story.plugs[COLUMN].watts = 0.0
    return story.run(hours=4)


def elsewhere():
    """A heater that stands in another room."""
    return Story(air=lambda s: 18.0 - 0.06 * s.steady / 3600).run(hours=5)


LATCHED = [(welded, "drawing-while-off"), (hot, "warm-plug"), (dead, "drawing-nothing"), (elsewhere, "no-answer")]


@pytest.mark.parametrize(("fault", "code"), LATCHED)
def test_a_latch_holds_over_a_restart(fault, code):
    """What latched before a restart holds after it, by way of JSON."""
    story = fault()
    assert story.troubles()[f"{COLUMN}/{code}"].latched
    story.restart().run(30, study=18.0)
    assert story.tripped(code)
    assert story.troubles()[f"{COLUMN}/{code}"].latched


@pytest.mark.parametrize(("fault", "code"), LATCHED)
def test_nothing_but_seen_opens_a_latch(fault, code):
    """Time, another request and another latch's Seen leave it; Seen opens it once the fault has gone."""
    story = fault()
    plug = story.plugs[COLUMN]
    plug.welded, plug.warm, plug.watts = False, 25.0, 600.0
    story.run(hours=1, study=18.0)
    story.ask(21.0)
    assert isinstance(story.seen("silent-plug"), Refused)
    assert story.run(10).tripped(code)
    assert isinstance(story.seen(code), Accepted)
    story.run(10)
    assert not story.tripped(code)
    assert story.on()


@pytest.mark.parametrize(("fault", "code"), LATCHED)
def test_what_persists_after_seen_latches_again(fault, code):
    """Seen is no cure: the same fault trips anew, and is told anew."""
    story = fault()
    told = story.happened("trouble")
    story.seen(code)
    story.run(hours=6)
    trouble = story.troubles()[f"{COLUMN}/{code}"]
    assert trouble.latched
    assert not trouble.seen
    assert story.happened("trouble") > told


@pytest.mark.parametrize(("fault", "code"), LATCHED)
def test_a_latch_is_told_while_the_sensor_is_silent(fault, code):
    """A latched trouble does not vanish from the page because something else is missing too."""
    story = fault().run(90, study=None)
    assert story.troubles()[f"{COLUMN}/{code}"].latched


def test_one_look_opens_the_latch_of_a_plug_that_went_cool_in_silence():
    """A plug that was hot and has told nothing since does not latch again on the old measurement."""
    story = hot()
    story.plugs[COLUMN].warm = None
    story.run(hours=1)
    story.seen("warm-plug")
    assert not story.run(5).tripped("warm-plug")
    story.plugs[COLUMN].warm = 76.0
    assert story.run(1).tripped("warm-plug")


def test_on_after_seen_still_keeps_the_rest_time():
    """Seen does not shorten the minimum rest."""
    story = hot()
    off_at = story.switchings()[-1][0]
    story.plugs[COLUMN].warm = 25.0
    story.run(1)
    story.seen("warm-plug")
    on_again = story.until(lambda s: s.on(), hours=1)
    assert on_again - off_at >= 300.0


def test_seen_of_what_does_not_latch_opens_nothing():
    """A trouble that clears by itself is marked as seen and stays until it clears."""
    story = Story(study(sensor=', stale_after = "10 min"'), air=18.0).run(5).run(20, study=None)
    assert isinstance(story.seen("reading-missing", "study"), Accepted)
    story.run(1)
    assert story.tripped("reading-missing")
    assert story.troubles()["study/reading-missing"].seen
    assert not story.run(2, study=18.0).troubles()
