"""A wish that begins later: it waits, the room is warm for it, it ends as was said, and it can be taken back."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tests.stories.known_room import KnownRooms, house_of
from tests.stories.teller import SPOT, Story, study
from tests.stories.test_leap import started
from thermostatd.core.asking import NO_END, Accepted, Ask, Cancel, Out, Refused, RoomOff, Undo
from thermostatd.core.results import Waiting

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
WEEK = 'usual = [{ days = "daily", at = "07:00", celsius = 19 }, { days = "daily", at = "20:00", celsius = 16 }]'
ROOM = 'household = { lowest = 15, highest = 22, longest = "12 h" }'
NOON = datetime(2026, 1, 12, 12, tzinfo=UTC)


def at(hour, minute=0, days=0):
    """That time of Monday the 12th, or of a day after it."""
    return NOON.replace(hour=hour, minute=minute) + timedelta(days=days)


def home(**how):
    """The study at noon, 19° until 20:00."""
    return Story(study(room=ROOM, more=SPOT).replace(ALWAYS, WEEK), air=19.0, tick=60.0, **how).run(2)


def plan(story, celsius=21.0, begins=None, until=None, who="Ana"):
    """A wish from 17:00 until 22:00, or other times."""
    return story.do(Ask("study", celsius, until or at(22), who, begins=begins or at(17)))


def target(story):
    """The study's target now."""
    return story.result.rooms["study"].target


def test_it_waits_holds_and_ends():
    """The week until then, known ahead; the wish with its end; then the week's night."""
    story = home()
    answer = plan(story)
    assert answer.sentence == "Ana asked for 21.0° from 17:00 until 22:00."
    before = target(story.run(1))
    assert (before.celsius, before.code, before.until, before.next_celsius) == (19, "usual", at(17), 21.0)
    assert before.later == (Waiting(21.0, at(17), at(22), "Ana", 16.0),)
    assert target(story.at("16:59")).celsius == 19
    during = target(story.at("17:00").run(1))
    assert (during.celsius, during.code, during.whose, during.until) == (21.0, "asked", "Ana", at(22))
    assert (during.next_celsius, during.later) == (16.0, ())
    assert story.happened("begun") == 1
    assert target(story.at("21:58")).celsius == 21.0
    assert target(story.at("22:00").run(1)).celsius == 16


def test_it_is_warm_on_time_as_for_a_step_of_the_week():
    """A learned room begins early for it: its air goes the same way as in a week with those steps."""
    daily = '{ days = "daily", at = "00:00", celsius = 17 }'
    steps = ', { days = "tue", at = "12:00", celsius = 20 }, { days = "tue", at = "16:00", celsius = 17 }'
    airs, runs = [], []
    for usual in (f"[{daily}]", f"[{daily}{steps}]"):
        story = KnownRooms(house_of(usual=usual), outdoor=8.0, celsius=17.0).run(24)
        if not airs:
            begins = story.moment().wall + timedelta(hours=12)
            story.regulator.do(story.moment(), Ask("study", 20.0, begins + timedelta(hours=4), begins=begins))
        story.run(18)
        airs.append(np.array(story.air["study"])[24 * 60 :])
        runs.append(story.runs["study"][24 * 60 :])
    assert np.abs(airs[0] - airs[1]).max() < 0.05
    assert any(runs[0][11 * 60 : 12 * 60]), "it began before noon"
    late = int(np.argmax(airs[0] >= 19.8)) - 12 * 60
    assert -15 <= late <= 10


@pytest.mark.parametrize("until", [None, NO_END])
def test_it_ends_with_the_weeks_next_step_or_the_longest_wish(until):
    """Counted from its begin."""
    story = home()
    how = {} if until is None else {"until": until}
    wish = Ask("study", 21.0, begins=at(9, days=1), **how)
    assert story.do(wish).until == (at(20, days=1) if until is None else at(21, days=1))


@pytest.mark.parametrize(
    ("begins", "until", "code"),
    [
        (at(11), at(22), "in-the-past"),
        (at(13, days=7), at(14, days=7), "too-far-ahead"),
        (at(17), at(16), "ends-before"),
        (at(17), at(17), "ends-before"),
        (at(17), at(6, days=1), "too-long"),
        (at(17).replace(tzinfo=None), at(22), "not-understood"),
        ("17:00", at(22), "not-understood"),
    ],
)
def test_what_cannot_wait_is_refused(begins, until, code):
    """And nothing waits."""
    story = home()
    answer = plan(story, begins=begins, until=until)
    assert isinstance(answer, Refused)
    assert answer.code == code
    assert target(story.run(1)).later == ()


def test_limits_hold_and_no_two_wishes_at_once():
    """The owner's degrees; another at the same time is refused with the first one's; one after the other is fine."""
    story = home()
    assert plan(story, 23.0).code == "too-warm"
    plan(story)
    clash = plan(story, 20.0, at(21), at(23), "Bo")
    assert (clash.code, "21.0° from 17:00 until 22:00" in clash.sentence) == ("asked-then", True)
    assert isinstance(plan(story, 20.0, at(22), at(23), "Bo"), Accepted)
    assert [one.celsius for one in target(story.run(1)).later] == [21.0, 20.0]
    assert target(story.at("22:00").run(1)).celsius == 20.0
    for day in range(1, 7):
        plan(story, begins=at(17, days=day), until=at(18, days=day))
    assert isinstance(plan(story, begins=at(19, days=6), until=at(20, days=6)), Accepted)
    assert plan(story, begins=at(21, days=6), until=at(22, days=6)).code == "too-many-waiting"


def test_it_is_taken_back_and_undone():
    """By when it begins; undone within its minute it waits again."""
    story = home()
    first = plan(story)
    story.do(Undo(first.change))
    assert target(story.run(1)).later == ()
    plan(story)
    answer = story.do(Cancel("study", "Bo", begins=at(17)))
    assert answer.sentence == "Bo took back the 21.0° from 17:00 until 22:00 that Ana had asked for."
    assert story.do(Cancel("study", begins=at(17))).code == "nothing-to-cancel"
    story.do(Undo(answer.change))
    assert target(story.at("17:00").run(1)).celsius == 21.0


def test_what_has_begun_is_not_undone():
    """Once it holds, an undo of what was before or of the asking is too late."""
    story = home()
    story.at("16:58")
    asked = plan(story, until=at(18))
    other = story.do(Ask("study", 20.0, at(19), "Bo"))
    story.run(3)
    assert target(story).celsius == 21.0
    assert [story.do(Undo(one.change)).code for one in (asked, other)] == ["nothing-to-undo"] * 2


def test_it_takes_the_place_of_what_was_asked_before():
    """Until then the earlier wish holds, and tells when it ends; afterwards the week."""
    story = home()
    plan(story)
    story.do(Ask("study", 18.0, at(23), "Bo"))
    now = target(story.run(1))
    assert (now.celsius, now.until, now.next_celsius) == (18.0, at(17), 21.0)
    assert target(story.at("17:00").run(1)).celsius == 21.0
    assert target(story.at("22:00").run(1)).code == "usual"


def test_it_outlives_a_restart():
    """By way of JSON."""
    story = home()
    plan(story)
    story.restart(down_seconds=60.0).run(5)
    assert len(target(story).later) == 1
    assert target(story.at("17:00").run(2)).celsius == 21.0


def test_a_clock_that_is_set_does_not_move_it():
    """It counts seconds like every wish; a computer that slept without a clock begins and ends it by what was said."""
    story = home()
    plan(story)
    story.jump_wall(-3.0)
    story.run(hours=5)
    assert target(story).celsius == 21.0, "five hours after noon by the steady clock"


@pytest.mark.parametrize(("down", "wrong"), [(7200.0, 9 * 86400.0), (7200.0, -7200.0), (7200.0, 0.0)])
def test_a_start_with_a_wrong_clock_moves_neither_end(down, wrong):
    """Two hours without power, the clock days ahead, or where it stood, or right: from five until ten all the same."""
    story = home()
    plan(story)
    story.run(5)
    started(story, down=down, wrong=wrong).run(3)
    assert target(story).code == "usual"
    story.jump_wall(-wrong / 3600)
    assert target(story.at("16:59")).celsius == 19
    assert target(story.at("17:00").run(1)).celsius == 21.0
    assert target(story.at("21:58")).celsius == 21.0
    assert target(story.at("22:00").run(1)).code == "usual"


@pytest.mark.parametrize(("day", "hours"), [("2026-03-28", 10.5), ("2026-10-24", 12.5)])
def test_the_odd_nights(day, hours):
    """From half past eight in the evening until the same clock time of the morning: an hour less or more of life."""
    toml = study(zone="Europe/Oslo", room=ROOM.replace("12 h", "13 h")).replace(ALWAYS, WEEK)
    story = Story(toml, f"{day} 12:00", air=19.0, tick=60.0).run(1)
    begins = story.local().replace(hour=20, minute=30, second=0)
    until = (begins + timedelta(days=1)).replace(hour=8, minute=0)
    story.do(Ask("study", 21.0, until, begins=begins))
    start = story.until(lambda s: target(s).celsius == 21.0)
    end = story.until(lambda s: target(s).celsius != 21.0)
    assert (end - start) / 3600 == pytest.approx(hours, abs=0.03)


def test_a_room_that_is_off_stays_off():
    """What was asked before it waits its time out; what would begin in it is refused."""
    story = home()
    plan(story, until=at(22))
    story.do(RoomOff("study", at(19)))
    assert target(story.at("17:30")).code == "room-off"
    assert target(story.at("19:00").run(1)).celsius == 21.0
    story.do(RoomOff("study"))
    assert plan(story, begins=at(21), until=at(23)).code == "room-is-off"
    plan_over = story.run(hours=10)
    assert target(plan_over).code == "room-off"


def test_an_off_longer_than_the_wish_leaves_nothing():
    """It ends unseen, and says so."""
    story = home()
    plan(story, until=at(18))
    story.do(RoomOff("study", at(19)))
    story.at("18:30")
    assert (target(story).later, story.happened("request-ended")) == ((), 1)
    assert target(story.at("19:00").run(1)).code == "usual"


def test_everyone_out_goes_over_it():
    """The return is told what will hold then; a wish for within the absence is refused, one for after it waits."""
    story = home()
    plan(story)
    story.do(Out(at(19)))
    assert (target(story.run(1)).code, target(story).next_celsius) == ("out", 21.0)
    assert plan(story, begins=at(16), until=at(17)).code == "everyone-out"
    assert isinstance(plan(story, begins=at(22, 30), until=at(23)), Accepted)
    assert target(story.at("19:00").run(1)).celsius == 21.0
    story.do(Out())
    assert plan(story, begins=at(23), until=at(23, 30)).code == "everyone-out"


def test_a_narrower_house_file_narrows_what_waits():
    """Degrees and length, counted from its begin."""
    story = home()
    plan(story)
    narrow = study(room=ROOM.replace("22", "20").replace("12 h", "2 h"), more=SPOT).replace(ALWAYS, WEEK)
    memory = story.regulator.memory
    again = Story(narrow, "2026-01-12 12:03", air=19.0, tick=60.0, memory=memory)
    again.steady, again.offset = story.steady, story.offset
    again.run(2)
    assert [(one.celsius, one.until) for one in target(again).later] == [(20.0, at(19))]
