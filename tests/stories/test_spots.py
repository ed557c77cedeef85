"""A spot: a person, a time, a place; its end always comes."""

import pytest

from tests.stories.teller import PANEL, SPOT, Story, study
from thermostatd.core.asking import Accepted, WarmMe

TOML = study(house='asleep = { from = "23:00", to = "06:30" }', more=SPOT)


def test_a_spot_counts_down_and_ends():
    """ON within a tick, the seconds that remain, who asked; OFF at its end."""
    story = Story(TOML, air=21.0).run(2)
    assert story.code(PANEL) == "spot-off"
    answer = story.warm_me(20)
    asked = story.steady
    assert answer.until.timestamp() - story.wall.timestamp() == pytest.approx(1200)
    story.step()
    spot = story.result.spots["sewing table"]
    assert (spot.on, spot.who, spot.remaining_seconds) == (True, "Bo", 1200)
    assert "20" in spot.reason.sentence
    story.run(10)
    assert 580 <= story.result.spots["sewing table"].remaining_seconds <= 610
    assert story.until(lambda s: not s.on(PANEL), hours=1) - asked == pytest.approx(1200, abs=10)
    assert story.happened("request-ended") == 1


def test_a_spot_is_asked_for_within_its_limits():
    """Longer than the owner allows, not at all, or no number: refused with the limit."""
    story = Story(TOML, air=21.0).run(2)
    assert (story.warm_me(91).code, story.warm_me(91).limit) == ("too-long", "90 minutes")
    for odd in (0, -5, float("nan"), True, "20", None, 10**400):
        assert story.warm_me(odd).code == "not-a-number"
    assert story.do(WarmMe("attic", 10)).code == "no-such-spot"


def test_a_spot_is_refused_while_it_could_not_run():
    """All off, and hours that may_run forbids, are said at once instead of an empty promise."""
    story = Story(TOML.replace('may_run = ["awake", "asleep", "away"]\nplug', 'may_run = ["awake"]\nplug'),
                  "2026-01-12 22:30", air=21.0).run(2)
    story.all_off()
    assert story.warm_me(10).code == "everything-off"
    story = Story(TOML.replace('watts = 900\nmay_run = ["awake", "asleep", "away"]', 'watts = 900'),
                  "2026-01-12 22:59", air=21.0).run(2)
    assert story.warm_me(10).code == "spot-not-now"


def test_a_second_request_replaces_the_first_and_cancel_ends_it():
    """The new end counts, what it replaced is told, and Cancel is OFF within a tick."""
    story = Story(TOML, air=21.0).run(2)
    story.warm_me(60)
    story.run(5)
    assert "Bo" in story.warm_me(10, "Ana").replaced
    story.step()
    assert story.result.spots["sewing table"].who == "Ana"
    assert isinstance(story.cancel("sewing table"), Accepted)
    story.step()
    assert not story.on(PANEL)
    assert story.cancel("sewing table").code == "nothing-to-cancel"


def test_a_spot_goes_on_after_a_short_stop_and_ends_on_time():
    """With the time down known, the end stays where it was; without, the spot ends."""
    story = Story(TOML, air=21.0).run(2)
    story.warm_me(60)
    asked = story.steady
    story.run(5).restart(down_seconds=60).run(2)
    assert story.on(PANEL)
    assert story.until(lambda s: not s.on(PANEL), hours=2) - asked == pytest.approx(3600, abs=10)
    story.warm_me(60)
    story.run(5).restart(elapsed_known=False).run(2)
    assert not story.on(PANEL)
