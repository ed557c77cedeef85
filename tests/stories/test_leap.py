"""A computer that starts with a clock that is wrong by days, or after days without power: what people asked holds as
long as was said, no less and no more."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from tests.stories.teller import Story, study
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken

HOME = study(room='household = { lowest = 15, highest = 23, longest = "7 d" }'.replace("7 d", "168 h"))
DAY = 86400.0


def started(story: Story, *, down: float, wrong: float) -> Story:
    """It was down for `down` seconds, and starts with a clock that is `wrong` seconds ahead, as the daemon does."""
    plain = json.loads(json.dumps(story.regulator.memory))
    stamp = story.wall
    shows = stamp + timedelta(seconds=down + wrong)
    gap = (shows - stamp).total_seconds()
    counted = gap if 0.0 <= gap < 400 * DAY else 0.0
    story.steady += counted
    story.offset = shows.timestamp() - story.steady
    for plug in story.plugs.values():
        plug.turn(story.steady, False)
        plug._reported_at = -1e9
    story._sensed_at = -1e9
    known = 0.0 <= gap < 400 * DAY
    woken = awaken(plain, elapsed_known=known, brief=False, by_wall=True, gap_seconds=counted)
    story.regulator = Regulator(story.house, memory=woken)
    return story.run(2)


def asked(hours: float, down: float, wrong: float) -> tuple[Story, datetime]:
    """A wish for some hours, and such a start after it; with when it ends."""
    story = Story(HOME, air=17.0).run(5)
    until = story.wall + timedelta(hours=hours)
    story.ask(22.0, until)
    story.run(5)
    return started(story, down=down, wrong=wrong), until


def holds(story: Story) -> bool:
    """Whether the wish is in force."""
    return story.result.rooms["study"].target.code == "asked"


@pytest.mark.parametrize("wrong", [9 * DAY, 300 * DAY, 4000 * DAY])
@pytest.mark.parametrize("after", [5, 200])
def test_a_clock_days_ahead_ends_no_wish(wrong, after):
    """An hour without power; the clock is set right minutes later: it holds to the end that was said. Set right only
    hours later, the week stands still meanwhile, and the new time is believed though it lies days back."""
    story, until = asked(12.0, 3600.0, wrong)
    assert holds(story)
    story.run(after - 2)
    story.jump_wall(-wrong / 3600)
    story.run(1)
    if after == 200:  # it had held for longer than anyone sets a clock
        story.run(hours=3)
        assert story.result.house.clock_agrees
        return
    assert story.result.house.clock_agrees
    assert holds(story)
    story.until(lambda s: not holds(s), hours=14)
    assert abs((story.wall - until).total_seconds()) < 120.0


@pytest.mark.parametrize("wrong", [-3600.0, -9 * DAY, -(datetime(2026, 1, 12, tzinfo=UTC).timestamp())])
@pytest.mark.parametrize("down", [3 * 3600.0, 20 * DAY])
def test_a_clock_that_lags_lets_no_wish_run_on(down, wrong):
    """It was down for hours or weeks; once the clock is set, what was asked ends by the time that was said."""
    story, until = asked(6.0, down, wrong)
    story.run(5)
    story.jump_wall(-wrong / 3600)
    story.run(1)
    assert holds(story) is (story.wall < until)
    if story.wall < until:
        story.until(lambda s: not holds(s), hours=7)
        assert abs((story.wall - until).total_seconds()) < 120.0


@pytest.mark.parametrize(("days", "over"), [(2, True), (20, True)])
def test_days_without_power_and_a_sound_clock(days, over):
    """A quarter of an hour after the start what was asked before is over."""
    story, _ = asked(6.0, days * DAY, 0.0)
    story.run(14)
    assert holds(story) is not over


def test_a_crash_before_the_clock_is_set():
    """It starts anew with the right clock: the wish is neither lost nor put off."""
    story, until = asked(12.0, 3600.0, 9 * DAY)
    assert holds(story)
    started(story, down=30.0, wrong=-9 * DAY)
    assert story.result.house.clock_agrees
    assert holds(story)
    story.until(lambda s: not holds(s), hours=14)
    assert abs((story.wall - until).total_seconds()) < 120.0


def test_out_for_days_goes_on():
    """A holiday of ten days, two of them without power."""
    story = Story(HOME, air=17.0).run(5)
    until = story.wall + timedelta(days=10)
    story.out(until=until)
    story.run(5)
    started(story, down=2 * DAY, wrong=0.0)
    assert story.result.house.out
    story.until(lambda s: not s.result.house.out, hours=9 * 24)
    assert abs((story.wall - until).total_seconds()) < 120.0


def test_nothing_old_is_thrown_away_by_a_clock_that_leapt():
    """Until it was set right, or has held for a week; a short cut on a sound clock changes nothing."""
    story, _ = asked(1.0, 3600.0, 0.0)
    assert story.regulator.wall_proven
    story, _ = asked(1.0, 3600.0, 900 * DAY)
    story.run(30)
    assert not story.regulator.wall_proven
    story, _ = asked(1.0, 3600.0, 300 * DAY)
    story.jump_wall(-300 * 24)
    assert story.run(2).regulator.wall_proven
    story, _ = asked(1.0, 3600.0, 300 * DAY)
    story.tick, story.sensor_every = 60.0, 600.0
    story.run(hours=24 * 6)
    assert not story.regulator.wall_proven
    story.run(hours=30)
    assert story.regulator.wall_proven


def test_what_is_recorded_while_the_clock_is_doubted_overwrites_nothing():
    """A board whose clock shows a day of the past: what happens now stands after what had happened."""
    story = Story(HOME, air=17.0).run(5)
    last = story.wall
    started(story, down=3600.0, wrong=-30 * DAY)
    assert story.wall < last
    assert last <= story.regulator.likeliest(story.moment).wall < last + timedelta(minutes=10)
