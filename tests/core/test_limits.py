"""Wishes held to limits that are narrower now, bound by bound, and what is told of it. All invented."""

from tests.core.guard.cases import NOON, NOW, now_at
from tests.core.test_rehousing import LIMITS, asked, memory_of
from tests.stories.teller import SPOT, house_of, study
from thermostatd.core.limits import keep_to_limits
from thermostatd.core.memory import ChangeMemory, RoomMemory

HOUSE = house_of(study(room=LIMITS, more=SPOT))


def kept(memory, house=HOUSE):
    """What is told: about what, and the sentence."""
    return [(event.about, str(event.sentence)) for event in keep_to_limits(house, memory, now_at())]


def test_a_wish_outside_the_limits_becomes_the_limit():
    """And says so by name; what was undoable no longer is; a second look tells nothing more."""
    for celsius, within, words in ((23.5, 22.0, "23.5°, is 22.0° now"), (14.0, 15.0, "14.0°, is 15.0° now")):
        memory = memory_of(asked(celsius), changes=[ChangeMemory(1, NOW)])
        assert kept(memory) == [("study", f"What Ana asked, {words}: the limit.")]
        assert memory.rooms["study"].request.celsius == within
        assert memory.changes == []
        assert kept(memory) == []
    for celsius in (22.0, 15.0, None):
        memory = memory_of(asked(celsius), changes=[ChangeMemory(1, NOW)])
        assert (kept(memory), memory.rooms["study"].request.celsius, len(memory.changes)) == ([], celsius, 1)


def test_a_wish_ends_no_later_than_the_longest_allows():
    """On both clocks; a shorter one, or one without an end, stays, and nothing is told of it."""
    for ends, until, after in (
        (NOW + 7200.0, 9000.0, (NOW + 3600.0, 5400.0)),
        (NOW + 3600.0, 9000.0, (NOW + 3600.0, 9000.0)),
        (None, None, (None, None)),
        (NOW + 7200.0, None, (NOW + 3600.0, None)),
    ):
        memory = memory_of(asked(20.0, ends=ends, until=until))
        told = [("study", "What Ana asked holds until 13:00 now: the house file allows no longer.")]
        assert kept(memory) == (told if after[0] != ends else [])
        request = memory.rooms["study"].request
        assert (request.ends, request.until_wall) == after
    assert NOON.hour == 12


def test_each_wish_that_changed_is_told():
    """Room by room."""
    den = '[[room]]\nname = "den"\nsensor = { topic = "d" }\nhousehold = { highest = 21 }'
    memory = memory_of(asked(23.5))
    memory.rooms["den"] = RoomMemory(request=asked(22.5, who="Bo"))
    assert kept(memory, house_of(study(room=LIMITS, more=SPOT + den))) == [
        ("study", "What Ana asked, 23.5°, is 22.0° now: the limit."),
        ("den", "What Bo asked, 22.5°, is 21.0° now: the limit."),
    ]


def test_a_spot_ends_no_later_than_the_longest_allows():
    """As a room's wish does."""
    memory = memory_of(spots={"sewing table": asked(None, ends=NOW + 9e4, until=9e4)})
    assert [about for about, _ in kept(memory)] == ["sewing table"]
    found = memory.spots["sewing table"]
    longest = found.ends - NOW
    assert 0.0 < longest < 9e4
    assert found.until_wall == longest
