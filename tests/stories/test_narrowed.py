"""What was asked before a start: held to what the owner allows since, and to the time that was said."""

from datetime import timedelta

import pytest

from tests.stories.teller import Story, house_of, study
from thermostatd.core.asking import NO_END

WIDE = study(room='household = { lowest = 15, highest = 23, longest = "12 h" }')
NARROW = study(room='household = { lowest = 15, highest = 18, longest = "1 h" }')


def test_an_older_wish_is_held_to_what_may_be_asked_now():
    """Its temperature and its end; no reload was needed for it."""
    story = Story(WIDE, air=17.0).run(5)
    story.ask(22.0, NO_END)
    story.run(5)
    assert story.result.rooms["study"].target.celsius == 22.0
    story.house = house_of(NARROW)
    story.restart().run(5)
    assert story.result.rooms["study"].target.celsius == 18.0
    assert (story.happened("narrowed"), story.happened("shortened")) == (1, 1)
    story.run(hours=1)
    assert story.result.rooms["study"].target.whose == "usual"


@pytest.mark.parametrize(("by_wall", "set_after", "over"), [(True, 2, True), (False, 2, False), (True, 20, False)])
def test_a_computer_that_slept_without_a_clock_ends_wishes_by_the_time_that_was_said(by_wall, set_after, over):
    """It takes up where it went down, and its time is set right minutes later: so long it was down. On one boot, or
    once a quarter of an hour is gone, a clock that is set says nothing of that."""
    story = Story(WIDE, air=17.0).run(5)
    story.ask(22.0, story.wall + timedelta(hours=2))
    story.run(5).restart(by_wall=by_wall).run(set_after)
    assert story.result.rooms["study"].target.celsius == 22.0
    story.jump_wall(3)
    story.run(1)
    assert (story.result.rooms["study"].target.code == "asked") is not over


def test_what_was_asked_since_the_start_keeps_its_time():
    """Half an hour is half an hour, though the clock is set right meanwhile."""
    story = Story(WIDE, air=17.0).run(5).restart(by_wall=True).run(2)
    story.ask(22.0, story.wall + timedelta(minutes=30))
    asked = story.run(2).steady
    story.jump_wall(3)
    ended = story.until(lambda s: s.result.rooms["study"].target.code != "asked", hours=1)
    assert ended - asked == pytest.approx(28 * 60.0, abs=20.0)
