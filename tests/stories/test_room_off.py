"""One room off alone: at once, against frost only, as long as was said, and nothing that others want."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.stories.known_room import KnownRooms, house_of
from tests.stories.teller import COLUMN, PANEL, SPOT, Story, study
from thermostatd.core.asking import NEXT_STEP, AllOff, Ask, Cancel, Out, RoomOff, Undo

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
EVENING = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }, { days = "daily", at = "18:00", celsius = 19 }]'


def heated(toml=None, **how):
    """A cold room whose heater runs."""
    story = Story(toml, air=18.0, **how).run(10)
    assert story.on()
    return story


def target(story):
    """The study's target now."""
    return story.result.rooms["study"].target


def test_off_is_off_at_once_and_says_so():
    """Though its run is not finished; the sentence and the target name it."""
    story = Story(study(more=SPOT), air=18.0).run(2)
    story.until(lambda s: s.on())
    story.run(1)
    answer = story.do(RoomOff("study", who="Ana"))
    story.warm_me(20)
    story.run(1)
    assert not story.on()
    assert story.on(PANEL), "a place is no room"
    room = story.result.rooms["study"]
    assert (room.target.code, room.target.whose, room.target.celsius) == ("room-off", "Ana", 7.0)
    assert (room.reason.code, room.target.until) == ("room-off", None)
    story.do(Undo(answer.change))
    assert target(story.run(1)).code == "usual"


def test_it_outlives_a_restart_and_waits_for_somebody():
    """Days later it is still off; turned on again, the week holds."""
    story = heated()
    story.do(RoomOff("study"))
    story.restart().run(hours=30)
    assert (target(story).code, story.on()) == ("room-off", False)
    story.cancel("study")
    story.run(10)
    assert (target(story).celsius, story.on()) == (20, True)


@pytest.mark.parametrize("until", [NEXT_STEP, datetime(2026, 1, 12, 18, 0, tzinfo=UTC)])
def test_it_ends_as_was_said(until):
    """With the week's step, or at a time; not before."""
    story = heated(study().replace(ALWAYS, EVENING))
    story.do(RoomOff("study", until))
    assert target(story.at("17:59")).code == "room-off"
    assert not any(orders[COLUMN].on for at, orders in story.steps[80:])
    assert target(story.at("18:00").run(1)).code == "usual"
    assert story.run(5).on()


def test_it_is_kept_from_frost():
    """Under the house's frost limit it is heated, and says so; not while everything is off."""
    story = heated()
    story.do(RoomOff("study", who="Ana"))
    story.run(30, study=6.0)
    room = story.result.rooms["study"]
    assert (story.on(), room.reason.code, room.target.code) == (True, "warming", "room-off")
    story.do(AllOff("Bo"))
    assert not story.run(10).on()


def test_off_heats_no_more_than_the_week_would():
    """A week that wants less than the frost limit is not raised to it."""
    story = Story(study().replace("celsius = 20", "celsius = 5"), air=6.0).run(10)
    story.do(RoomOff("study"))
    assert not story.run(30).on()
    assert target(story).celsius == 5


def test_the_plugs_button_heats_no_room_that_is_off():
    """Whoever wants heat there turns it on first; the sentence names that."""
    story = Story(study(heater='by_hand = "allow for 2 h"'), air=20.3).run(10)
    story.do(RoomOff("study"))
    story.run(1).press(True).run(1)
    assert (story.on(), story.plugs[COLUMN].on, story.code()) == (False, False, "room-off")


def test_everyone_out_goes_over_it_and_leaves_it():
    """Once they are back it is off still, and its time runs on."""
    story = heated()
    noon = datetime(2026, 1, 12, 12, tzinfo=UTC)
    story.do(RoomOff("study", noon + timedelta(hours=5)))
    story.do(Out(noon + timedelta(hours=3)))
    assert target(story.run(1)).code == "out"
    assert target(story).next_celsius == 7.0
    story.at("15:00").run(1)
    assert (target(story).code, story.on()) == ("room-off", False)
    assert target(story.at("17:00").run(1)).code == "usual"


def test_it_may_last_longer_than_heat_may_be_asked_for():
    """The owner's longest wish is about heat."""
    story = heated(study(room='household = { lowest = 15, highest = 22, longest = "2 h" }'))
    story.do(RoomOff("study", datetime(2026, 1, 12, 20, tzinfo=UTC)))
    assert target(story.at("19:59")).code == "room-off"
    assert target(story.at("20:00").run(1)).code == "usual"


def test_asking_for_degrees_turns_it_on():
    """The last word counts."""
    story = heated()
    story.do(RoomOff("study"))
    story.run(10)
    story.do(Ask("study", 21.0, who="Bo"))
    assert story.run(10).on()
    assert story.do(Cancel("study")).sentence.startswith("someone took back")


def test_nothing_is_heated_ahead_of_its_end():
    """A room that heats ahead does so for a return, never out of an off."""
    story = KnownRooms(house_of(), outdoor=8.0, hour=11).run(1)
    end = story.moment().wall + timedelta(hours=5)
    story.regulator.do(story.moment(), RoomOff("study", end))
    story.run(5)
    assert not any(story.runs["study"][62:-2])
    story.run(0.5)
    assert any(story.runs["study"][-20:])
