"""Wishes for later at the one door: what is kept of one that waits, why one is refused, how it is taken back."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.core.test_door import WALL, Home
from thermostatd.core.asking import NEXT_STEP, NO_END, Accepted, AllOff, Ask, Cancel, Out, Refused, RoomOff
from thermostatd.core.memory import RequestMemory
from thermostatd.core.results import Event
from thermostatd.core.week import Week

FIVE, TEN = NOON + timedelta(hours=5), NOON + timedelta(hours=10)
HOUR = 3600.0


def later(home, *, celsius=21, begins=FIVE, until=TEN, who="Ana", after=0.0):
    """A wish of the study's from 17:00 until 22:00, or others."""
    return home.ask(Ask("study", celsius, until, who, origin="kitchen phone", begins=begins), after=after)


def waiting(home):
    """What waits in the study."""
    return home.memory.rooms["study"].later


def test_it_waits_with_its_begin_and_end_and_changes_nothing_now():
    """Its seconds are steady; what is told names both times."""
    home = Home()
    said = "Ana asked for 21.0° from 17:00 until 22:00."
    assert later(home) == Accepted(said, 21.0, TEN, None, 1)
    kept = RequestMemory("Ana", "kitchen phone", WALL, NOW + 10 * HOUR, TEN.timestamp(), 21.0)
    kept.begins, kept.begins_wall = NOW + 5 * HOUR, FIVE.timestamp()
    assert waiting(home) == [kept]
    assert type(kept.celsius) is float
    assert home.request is None
    assert home.door.events == [Event("asked-later", "study", said)]


@pytest.mark.parametrize(
    ("until", "hours"), [(NEXT_STEP, 10.0), (NO_END, 17.0), (FIVE + timedelta(hours=12), 17.0)]
)
def test_its_end_counts_from_its_begin(until, hours):
    """The first step after it, the longest from it on, a time."""
    home = Home()
    assert isinstance(later(home, until=until), Accepted)
    assert waiting(home)[0].ends == NOW + hours * HOUR


def test_the_next_step_is_the_first_after_its_begin():
    """Begun at 23:00 it ends at 7, not at 22 before it; without a week after the longest."""
    home = Home()
    later(home, begins=NOON + timedelta(hours=11), until=NEXT_STEP)
    assert waiting(home)[0].ends == NOW + 19 * HOUR
    home = Home()
    home.weeks["study"] = Week((), ZoneInfo("UTC"))
    later(home, until=NEXT_STEP)
    assert waiting(home)[0].ends == NOW + 17 * HOUR


@pytest.mark.parametrize(
    ("how", "code", "limit"),
    [
        ({"celsius": 22.5}, "too-warm", 22.0),
        ({"begins": NOON}, "in-the-past", None),
        ({"begins": NOON + timedelta(days=7, seconds=1)}, "too-far-ahead", 7.0),
        ({"until": FIVE}, "ends-before", None),
        ({"until": FIVE + timedelta(hours=12, seconds=1)}, "too-long", "12 hours"),
        ({"begins": FIVE.replace(tzinfo=None)}, "not-understood", None),
        ({"begins": 17}, "not-understood", None),
    ],
)
def test_what_cannot_wait_is_refused(how, code, limit):
    """By the room's limits, its begin and its end; nothing is kept."""
    home = Home()
    answer = later(home, **how)
    assert (type(answer), answer.code, answer.limit) == (Refused, code, limit)
    assert waiting(home) == []
    if code == "not-understood":
        assert answer.sentence == "That was not understood: a begin is a time with its zone."


def test_two_at_once_are_refused_by_what_waits_already():
    """It is named with its times; one right after it is not in its way."""
    home = Home()
    later(home, who="Bo")
    answer = later(home, celsius=19, begins=TEN - timedelta(seconds=1), until=NO_END)
    assert answer.code == "asked-then"
    for told in ("Bo", "21.0°", "17:00", "22:00"):
        assert told in answer.sentence
    assert isinstance(later(home, begins=TEN, until=NO_END), Accepted)
    assert [one.begins for one in waiting(home)] == [NOW + 5 * HOUR, NOW + 10 * HOUR]


def test_who_is_out_or_has_turned_the_room_off_until_then_is_told():
    """While everything is off it is kept, and said to wait for that."""
    home = Home()
    home.ask(Out(FIVE + timedelta(seconds=1)))
    assert later(home).code == "everyone-out"
    home = Home()
    home.ask(RoomOff("study"))
    assert later(home).code == "room-is-off"
    home = Home()
    home.ask(AllOff())
    said = "Ana asked for 21.0° from 17:00 until 22:00. Everything is off now; it holds once heating is on again."
    assert later(home).sentence == said


def test_it_is_taken_back_by_its_begin():
    """Who took back whose, once; what holds now stays."""
    home = Home()
    home.ask(Ask("study", 19.0))
    later(home)
    answer = home.ask(Cancel("study", "Bo", begins=FIVE))
    said = "Bo took back the 21.0° from 17:00 until 22:00 that Ana had asked for."
    assert (answer.sentence, answer.celsius, answer.until) == (said, None, None)
    assert home.door.events[-1] == Event("withdrawn", "study", said)
    assert (waiting(home), home.request.celsius) == ([], 19.0)
    assert home.ask(Cancel("study", begins=FIVE)).code == "nothing-to-cancel"


@pytest.mark.parametrize(
    ("request_", "code"),
    [
        (Cancel("shed", begins=FIVE), "no-such-room"),
        (Cancel("sewing table", begins=FIVE), "no-such-room"),
        (Cancel(Out, begins=FIVE), "no-such-room"),
        (Cancel("study", begins=FIVE.replace(tzinfo=None)), "not-understood"),
        (Cancel("study", begins="17:00"), "not-understood"),
        (Cancel("study", begins=TEN), "nothing-to-cancel"),
    ],
)
def test_what_does_not_wait_cannot_be_taken_back(request_, code):
    """No such room, no time, none that begins then."""
    home = Home()
    later(home)
    assert home.ask(request_).code == code
    assert len(waiting(home)) == 1


def test_its_begin_is_so_far_off_as_by_the_time_that_is_believed():
    """An hour on, while the week stands still at noon."""
    home = Home(now=replace(now_at(), best=NOON + timedelta(hours=1)))
    later(home)
    assert (waiting(home)[0].begins, waiting(home)[0].ends) == (NOW + 4 * HOUR, NOW + 9 * HOUR)
