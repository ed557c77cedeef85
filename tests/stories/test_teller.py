"""The story harness itself."""

from tests.stories.teller import Plant, Story


def test_a_day_is_told():
    """A day of 10 s ticks keeps the room within half a kelvin of its target, in some switchings."""
    story = Story()
    story.air["study"] = Plant()
    story.run(hours=24)
    assert len(story.steps) == 8640
    assert 19.5 < story.air["study"].celsius < 20.5
    assert 10 < len(story.switchings()) < 250
