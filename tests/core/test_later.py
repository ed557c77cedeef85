"""Wishes that begin later, at their very bounds. All invented; times are steady seconds."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from thermostatd.core import later
from thermostatd.core.memory import ChangeMemory, Memory, RequestMemory, RoomMemory
from thermostatd.core.results import Event, Target, Waiting

WALL = NOON.timestamp()
DAY = 86400.0


def wish(begins=NOW, ends=NOW + 3600.0, celsius=21.0, *, off=False, who="Ana"):
    """What someone asked; its wall times lie as far from noon as its steady ones from now."""
    walls = [None if at is None else WALL + at - NOW for at in (begins, ends)]
    return RequestMemory(who, "page", WALL, ends, walls[1], celsius, off=off, begins=begins, begins_wall=walls[0])


def room(*waits, request=None):
    """A room in which these wait."""
    return RoomMemory(later=list(waits), request=request)


@pytest.mark.parametrize(
    ("begins", "said"),
    [
        (NOW, ("in-the-past", {})),
        (NOW + 0.1, None),
        (NOW + 7 * DAY, None),
        (NOW + 7 * DAY + 0.1, ("too-far-ahead", {"limit": 7.0})),
    ],
)
def test_it_begins_within_a_week(begins, said):
    """Not now, and no later than a week from now."""
    assert later.refusal(Memory(), room(), begins, now_at()) == said


def test_what_refuses_it():
    """Seven that wait, everyone out, or a room that is off by then; a warm wish of now does not."""
    begins = NOW + 60.0
    assert later.refusal(Memory(), room(*[wish()] * 6), begins, now_at()) is None
    assert later.refusal(Memory(), room(*[wish()] * 7), begins, now_at()) == ("too-many-waiting", {"limit": 7.0})
    out = Memory(out=wish(None, begins + 0.1))
    code, numbers = later.refusal(out, room(), begins, now_at())
    assert (code, str(numbers["until"])) == ("everyone-out", " until 12:01")
    assert later.refusal(Memory(out=wish(None, begins)), room(), begins, now_at()) is None
    assert later.refusal(Memory(out=wish(None, None)), room(), begins, now_at()) == ("everyone-out", {"until": ""})
    off = room(request=wish(None, begins + 0.1, None, off=True))
    code, numbers = later.refusal(Memory(), off, begins, now_at())
    assert (code, str(numbers["until"])) == ("room-is-off", " until 12:01")
    assert later.refusal(Memory(), room(request=wish(None, begins, None, off=True)), begins, now_at()) is None
    assert later.refusal(Memory(), room(request=wish(None, begins + 9.0)), begins, now_at()) is None


def test_no_two_hold_at_once():
    """One may begin in the second in which another ends; one without an end is in the way of all after it."""
    first, endless = wish(NOW + 100.0, NOW + 200.0), wish(NOW + 300.0, None)
    kept = room(first, endless)
    assert later.in_the_way(kept, NOW + 50.0, NOW + 100.0) is None
    assert later.in_the_way(kept, NOW + 50.0, NOW + 100.1) is first
    assert later.in_the_way(kept, NOW + 199.9, NOW + 250.0) is first
    assert later.in_the_way(kept, NOW + 200.0, NOW + 300.0) is None
    assert later.in_the_way(kept, NOW + 9e9, NOW + 9.1e9) is endless


def test_they_wait_in_order_and_one_is_taken_back_by_its_minute():
    """The soonest first; the one that begins within a minute of what is named goes, and no other."""
    kept, first, second = room(), wish(NOW + 100.0), wish(NOW + 900.0)
    later.wait(kept, second)
    later.wait(kept, first)
    assert kept.later == [first, second]
    assert later.withdraw(kept, WALL + 40.0) is None
    assert later.withdraw(kept, WALL + 160.0) is None
    assert later.withdraw(kept, WALL + 40.1) is first
    assert kept.later == [second]
    assert later.withdraw(kept, WALL + 959.9) is second
    assert kept.later == []
    assert later.withdraw(room(wish(None)), 59.9) is not None
    assert later.withdraw(room(wish(None)), 60.0) is None


def change(*requests, waits=()):
    """A change that may be put back."""
    return ChangeMemory(1, NOW + 60.0, requests=dict.fromkeys(requests), later={name: [] for name in waits})


def test_one_begins_at_its_second():
    """It takes the place of what was asked, and what may be put back of that room is final; others wait on."""
    held, due, coming = wish(None, NOW + 9.0, who="Ben"), wish(NOW), wish(NOW + 0.1)
    kept = room(due, coming, request=held)
    other = change("room loft")
    changes = [change("room study"), other, change(waits=["study"])]
    memory = Memory(rooms={"study": kept, "loft": room()}, changes=changes)
    assert later.begin(memory, now_at()) == [
        Event("begun", "study", "What Ana asked for begins: 21.0° until 13:00.")
    ]
    assert (kept.request, kept.later, memory.changes) == (due, [coming], [other])
    assert later.begin(memory, now_at()) == []


def test_a_room_that_is_off_stays_off_and_what_is_over_is_told():
    """It waits on while its room is off; over meanwhile, it goes, and takes no place; the next is looked at too."""
    off = wish(None, None, None, off=True)
    kept, loft = room(wish(NOW - 9.0), request=off), room(wish(NOW))
    memory = Memory(rooms={"study": kept, "loft": loft})
    assert [event.code for event in later.begin(memory, now_at())] == ["begun"]
    assert (kept.request, len(kept.later), len(loft.later)) == (off, 1, 0)
    kept = room(wish(NOW - 9.0), wish(NOW - 8.0, NOW), request=off)
    assert [event.code for event in later.begin(Memory(rooms={"study": kept}), now_at())] == ["request-ended"]
    for request in (off, None, wish(None)):
        kept = room(wish(NOW - 9.0, NOW), wish(NOW, None, who="Ben"), request=request)
        events = later.begin(Memory(rooms={"study": kept}), now_at())
        assert events[0] == Event("request-ended", "study", "What Ana asked has ended.")
        assert len(kept.later) == (1 if request is off else 0)
        assert request is off or kept.request.who == "Ben"
        assert [event.sentence for event in events[1:]] == (
            [] if request is off else ["What Ben asked for begins: 21.0° until ."]
        )
    kept = room(wish(NOW - 9.0, NOW + 0.1, None))
    (event,) = later.begin(Memory(rooms={"study": kept}), now_at())
    assert event.sentence.startswith("What Ana asked for begins: 0.0°")


USUAL = Target(18.0, "usual", "usual", until=NOON, next_celsius=19.0, next_at=NOW + 100.0)


@pytest.mark.parametrize(
    ("next_at", "begins", "told"),
    [
        (NOW + 100.0, NOW + 130.0, True),
        (NOW + 100.0, NOW + 130.1, False),
        (NOW + 100.0, NOW + 50.0, True),
        (None, NOW + 9e5, True),
    ],
)
def test_a_room_is_told_ahead_of_what_is_sooner(next_at, begins, told):
    """The wish, where the week's own step is not half a minute sooner and more; with no wish nothing changes."""
    target = replace(USUAL, next_at=next_at)
    found = later.ahead(target, room(wish(begins, None, 22.5), wish(begins + 9.0)))
    until = datetime.fromtimestamp(WALL + begins - NOW, UTC)
    wished = replace(target, until=until, next_celsius=22.5, next_at=begins)
    assert found == (wished if told else target)
    assert later.ahead(target, room()) is target


@pytest.mark.parametrize(("ends", "cut"), [(NOW + 70.0, True), (NOW + 69.9, False), (None, True)])
def test_a_wish_in_force_ends_where_one_that_waits_begins(ends, cut):
    """Where it ends half a minute sooner and more, its own end holds."""
    coming = wish(NOW + 100.0, None, 22.5)
    held = wish(None, ends)
    target = Target(20.0, "Ana", "asked", next_celsius=17.0, next_at=NOW + 5.0)
    found = later.cut_short(held, target, room(coming))
    until = datetime.fromtimestamp(WALL + 100.0, UTC)
    assert found == (replace(target, until=until, next_celsius=22.5, next_at=NOW + 100.0) if cut else target)
    assert later.cut_short(held, target, room()) is target


def test_what_a_wish_wants_at_a_later_moment():
    """From half a minute before it begins, until half a minute before it ends."""
    kept = room(wish(NOW + 100.0, NOW + 200.0, 22.0), wish(NOW + 200.0, None, 23.0))
    found = [later.at(kept, NOW + seconds) for seconds in (69.9, 70.0, 169.9, 170.0, 9e9)]
    assert found == [None, 22.0, 22.0, 23.0, 23.0]
    assert later.at(room(), NOW) is None


def test_what_waits_is_told_with_its_times_and_what_follows():
    """As a person reads it; what has no temperature or no end is no wish to show."""
    kept = room(wish(), wish(celsius=None), wish(ends=None), wish(begins=None), wish(NOW + 60.0, NOW + 120.0, 19.5))
    ends = [datetime.fromtimestamp(WALL + seconds, UTC) for seconds in (3600.0, 60.0, 120.0)]
    assert list(later.waiting(kept, [17.0, 1.0, 2.0, 3.0, None])) == [
        Waiting(21.0, NOON, ends[0], "Ana", 17.0), Waiting(19.5, ends[1], ends[2], "Ana", None),
    ]  # fmt: skip
    with pytest.raises(ValueError, match="shorter"):
        list(later.waiting(kept, [17.0]))


def test_how_long_what_was_asked_holds():
    """To its second; without an end for good."""
    assert later.holds(wish(ends=NOW), NOW - 0.1)
    assert not later.holds(wish(ends=NOW), NOW)
    assert later.holds(wish(ends=None), 9e9)
    assert not later.holds(None, NOW)
