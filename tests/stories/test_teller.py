"""The story harness itself."""

import time

from tests.stories.teller import Plant, Story


def test_a_day_is_told_in_little_time():
    """A day of 10 s ticks takes seconds, not minutes."""
    story = Story()
    story.air["study"] = Plant()
    began = time.perf_counter()
    story.run(hours=24)
    assert time.perf_counter() - began < 20.0
    assert len(story.steps) == 8640
    assert 19.5 < story.air["study"].celsius < 20.5
    assert 10 < len(story.switchings()) < 250
