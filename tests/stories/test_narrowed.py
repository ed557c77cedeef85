"""The owner narrowed what may be asked, and started the program again: what was asked before is held to it."""

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
    story.run(hours=1)
    assert story.result.rooms["study"].target.whose == "usual"
