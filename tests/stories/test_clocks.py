"""Two clocks: steady seconds rule, and a wall clock that jumps is doubted, held by, and believed again."""

import pytest

from tests.stories.teller import COLUMN, Story, study
from thermostatd.core.asking import Accepted
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
DAY = 'usual = [{ days = "daily", at = "07:00", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'


def day(**how):
    """A room that is warm by day, in a story that begins before noon."""
    return Story(study().replace(ALWAYS, DAY), "2026-01-12 11:50", air=18.0, **how).run(10)


@pytest.mark.parametrize("hours", [1, -1, 12, -12, 24 * 400, -24 * 365 * 60])
def test_a_jump_is_held_for_thirty_minutes_then_off_and_told(hours):
    """The week stands still; the last target holds for 30 minutes; then off, with a trouble."""
    story = day()
    story.jump_wall(hours)
    jumped = story.steady
    story.run(1)
    assert story.happened("clock-doubted") == 1
    assert not story.result.house.clock_agrees
    assert story.result.rooms["study"].target.celsius == 20
    off = story.until(lambda s: not s.on(), hours=1)
    assert 1800 <= off - jumped <= 1810
    assert story.code() == "clock"
    assert "house/clock" in story.troubles()


def test_a_clock_that_comes_back_is_believed_at_once():
    """Back within the tolerance: on again, the trouble is over."""
    story = day().jump_wall(5).run(60)
    story.jump_wall(-5).run(10)
    assert story.on()
    assert story.happened("clock-believed") == 1
    assert not story.troubles()


@pytest.mark.parametrize("hours", [1, -1, -20, 24 * 30])
def test_a_new_time_that_goes_evenly_for_two_hours_is_believed(hours):
    """Two even hours on a plausible new time and the week follows it."""
    story = day().jump_wall(hours)
    jumped = story.steady
    believed = story.until(lambda s: s.result.house.clock_agrees, hours=3)
    assert 7200 <= believed - jumped <= 7220
    local = story.local()
    assert story.result.rooms["study"].target.celsius == (20 if 7 <= local.hour < 22 else 16)


def test_a_clock_that_keeps_jumping_is_not_believed():
    """Even for less than two hours is not even."""
    story = day(tick=30.0)
    for _ in range(8):
        story.jump_wall(0.5).run(60)
    assert not story.result.house.clock_agrees
    assert story.code() == "clock"


def test_small_steps_and_slow_drift_are_no_jump():
    """A minute's correction, and drift of a second a minute for hours, are followed."""
    story = day()
    story.jump_wall(1 / 60).run(5)
    for _ in range(120):
        story.jump_wall(1 / 3600).run(1)
    assert story.happened("clock-doubted") == 0


def test_a_clock_set_back_for_good_can_be_believed_on_the_owners_word():
    """Years back is never believed by itself, so that no house stays cold: Seen on the trouble settles it."""
    for restart in (False, True):
        story = day().jump_wall(-24 * 365)
        if restart:
            story.restart()
        story.run(hours=4)
        assert story.code() == "clock"
        assert isinstance(story.seen("clock", "house"), Accepted)
        story.run(10)
        assert story.result.house.clock_agrees
        assert story.on()
        assert "house/clock" not in story.troubles()


def test_the_owners_word_does_not_make_1970_true():
    """A clock that was never set is not believed on anyone's word."""
    story = day()
    story.jump_wall(-24 * 365 * 56).run(40)
    story.seen("clock", "house")
    assert story.run(5).code() == "clock"


def test_1970_at_the_first_start_holds_frost_then_off_until_the_clock_is_set():
    """With no time ever known there is no target to hold; the clock set right brings the week."""
    story = Story(study(), "1970-01-01 00:00", air=18.0).run(10)
    assert story.result.rooms["study"].target.celsius == 7.0
    assert not story.on()
    story.run(30, study=3.0)
    assert story.code() == "clock"
    story.jump_wall(24 * 365.25 * 56)
    story.run(10, study=18.0)
    assert story.result.house.clock_agrees
    assert story.on()


def test_1970_after_a_restart_holds_the_last_target_then_believes_a_clock_set_forward():
    """After a power cut the machine starts in 1970; the last target holds, the time set brings the week at once."""
    story = day().restart(down_seconds=30)
    right = story.offset
    story.offset -= story.wall.timestamp()
    story.run(10)
    assert story.result.rooms["study"].target.celsius == 20
    assert story.result.rooms["study"].target.code == "held"
    assert story.on()
    story.offset = right + 3600.0
    story.run(5)
    assert story.result.house.clock_agrees
    assert story.on()


def test_a_stale_clock_set_right_soon_after_a_start_is_believed():
    """A clock that starts where it stopped and is then set forward by eight hours is not doubted."""
    story = day().restart(down_seconds=30)
    story.run(5).jump_wall(8).run(5)
    assert story.result.house.clock_agrees
    assert story.result.rooms["study"].target.celsius == 20


def test_settling_lasts_from_the_start_not_from_the_stop():
    """However long the program was down, a clock set within its first minutes is believed."""
    story = day().restart(down_seconds=3600)
    story.run(5).jump_wall(4).run(5)
    assert story.result.house.clock_agrees


def test_requests_between_steps_take_no_time_from_them():
    """What counts seconds, such as run times, counts them once, however many requests come between."""
    told, quiet = Story(air=18.0), Story(air=18.0)
    quiet.run(30)
    for _ in range(180):
        told.step()
        told.steady -= 5.0
        told.ask(21.0)
        told.steady += 5.0
    heaters = [story.regulator.memory["heaters"][COLUMN]["on_seconds"] for story in (told, quiet)]
    assert heaters[0] == heaters[1] > 1700


def test_an_unreadable_memory_is_a_value_error():
    """Whatever stands in it, it is refused with a ValueError, so that the daemon can start without it."""
    house = Story().house
    for memory in ({"version": 2}, {"version": "x"}, {"rooms": 3}, {"rooms": {"study": {"air": {"celsius": "warm"}}}}):
        with pytest.raises(ValueError, match=r"."):
            Regulator(house, memory=memory)
    assert awaken(None)["rooms"] == {}
