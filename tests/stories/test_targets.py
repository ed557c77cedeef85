"""The usual week, requests, everyone out, and whose wish holds."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.stories.teller import Story, study
from thermostatd.core.asking import NO_END, Accepted, Ask, Cancel, Out, Refused, Seen, WarmMe

OSLO = ZoneInfo("Europe/Oslo")
WEEK = 'usual = [{ days = "mon-fri", at = "07:30", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'


def week(usual=WEEK, zone="Europe/Oslo", **tables):
    """The study with another usual week."""
    return study(zone=zone, **tables).replace(ALWAYS, usual)


def target(story):
    """The study's target now."""
    return story.result.rooms["study"].target


def test_the_usual_week_steps_on_the_houses_clock():
    """16° in the night, 20° from half past seven on working days, whose wish is "usual", and what comes next."""
    story = Story(week(), "2026-01-12 07:00", air=18.0).run(1)
    assert (target(story).celsius, target(story).whose, target(story).next_celsius) == (16, "usual", 20)
    assert target(story.at("07:29")).celsius == 16
    assert target(story.at("07:30")).celsius == 20
    assert target(story.at("22:00")).celsius == 16
    assert target(Story(week(), "2026-01-17 12:00").run(1)).celsius == 16, "no step on a Saturday morning"


@pytest.mark.parametrize(("night", "seconds"), [("2026-03-28", 23 * 3600), ("2026-10-24", 25 * 3600)])
def test_steps_on_the_odd_nights_come_on_the_clock(night, seconds):
    """A day of 23 or 25 hours has each step once, at its local time."""
    usual = 'usual = [{ days = "daily", at = "07:30", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
    story = Story(week(usual), f"{night} 22:30", air=18.0, tick=60.0)
    first = story.until(lambda s: target(s).celsius == 20)
    second = story.until(lambda s: target(s).celsius == 16)
    third = story.until(lambda s: target(s).celsius == 20)
    assert first - 1000 == seconds - 15 * 3600
    assert second - first == 14.5 * 3600
    assert third - second == 9.5 * 3600


def test_a_step_at_a_skipped_hour_comes_at_the_next_valid_moment():
    """02:30 does not exist on 29 March 2026 in Oslo: its step comes at 03:00 summer time."""
    usual = 'usual = [{ days = "daily", at = "02:30", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
    story = Story(week(usual), "2026-03-29 00:30", tick=60.0)
    at = story.until(lambda s: target(s).celsius == 20)
    assert datetime.fromtimestamp(at + story.offset, OSLO).strftime("%H:%M %z") == "03:00 +0200"


def test_a_step_at_a_repeated_hour_comes_once_at_its_first():
    """02:30 comes twice on 25 October 2026 in Oslo: the step is taken at the first, and not undone."""
    usual = (
        'usual = [{ days = "daily", at = "02:30", celsius = 20 }, { days = "daily", at = "02:45", celsius = 17 },'
        ' { days = "daily", at = "22:00", celsius = 16 }]'
    )
    story = Story(week(usual), "2026-10-25 00:30", tick=60.0)
    seen = []
    for _ in range(4 * 60):
        story.step()
        if not seen or seen[-1] != target(story).celsius:
            seen.append(target(story).celsius)
    assert seen == [16, 20, 17]


def test_a_request_until_the_next_step_ends_there():
    """NEXT_STEP ends with the usual week's next step, and tells when and whose."""
    story = Story(week(), "2026-01-12 20:00").run(1)
    answer = story.ask(21.0)
    assert answer.until.astimezone(OSLO).strftime("%H:%M") == "22:00"
    story.run(1)
    assert (target(story).celsius, target(story).whose, target(story).code) == (21.0, "Ana", "asked")
    assert target(story.at("21:59")).celsius == 21.0
    assert target(story.at("22:00").run(0.5)).celsius == 16.0
    assert story.happened("request-ended") == 1


def test_a_request_with_an_end_ends_there_and_one_without_is_capped():
    """An aware time is kept; NO_END holds for the owner's longest; a longer one is refused with the limit."""
    story = Story(study(room='household = { longest = "3 h" }')).run(1)
    answer = story.ask(21.0, story.moment.wall + timedelta(hours=2))
    assert isinstance(answer, Accepted)
    asked = story.steady
    assert story.until(lambda s: target(s).whose == "usual") - asked == pytest.approx(7200, abs=10)
    asked = story.steady
    story.ask(21.0, NO_END)
    assert story.until(lambda s: target(s).whose == "usual") - asked == pytest.approx(3 * 3600, abs=10)
    refused = story.ask(21.0, story.moment.wall + timedelta(hours=4))
    assert (refused.code, refused.limit) == ("too-long", "3 hours")
    assert story.ask(21.0, story.moment.wall - timedelta(seconds=1)).code == "in-the-past"


def test_the_owners_limits_hold_and_a_refusal_names_them():
    """Too warm, too cold and no number are refused with the limit; nothing changes."""
    story = Story(study(room="household = { lowest = 15, highest = 22 }")).run(1)
    before = story.regulator.memory | {"clock": None}
    assert (story.ask(22.1).code, story.ask(22.1).limit) == ("too-warm", 22)
    assert (story.ask(14.9).code, story.ask(14.9).limit) == ("too-cold", 15)
    for odd in (float("nan"), float("inf"), True, "21", None, 10**400, -(10**400)):
        assert story.ask(odd).code == "not-a-number", odd
    for room in ("attic", None, 3, ["study"], "study/column"):
        assert story.ask(20.0, room=room).code == "no-such-room"
    for until in ("tomorrow", 5, None.__class__, datetime(2026, 1, 12, 13), WarmMe):  # noqa: DTZ001
        assert story.ask(20.0, until).code == "not-understood"
    assert story.do("warmer").code == "not-understood"
    after = story.regulator.memory | {"clock": None}
    assert before == after
    assert isinstance(story.ask(22.0), Accepted)
    assert isinstance(story.ask(15.0), Accepted)


@pytest.mark.parametrize("until", [datetime.max, datetime.min, datetime(1, 1, 1)])  # noqa: DTZ001, DTZ901
@pytest.mark.parametrize("hours", [-14, 0, 14])
def test_an_end_at_the_edge_of_the_calendar_is_refused_without_a_fall(until, hours):
    """A time no calendar can shift is answered, not raised."""
    from datetime import timezone

    story = Story().run(1)
    assert isinstance(story.ask(20.0, until.replace(tzinfo=timezone(timedelta(hours=hours)))), Refused)


def test_an_answer_tells_what_it_replaced():
    """Who asked before, for what, until when."""
    story = Story(week(), "2026-01-12 20:00").run(1)
    assert story.ask(21.0, who="Ana").replaced is None
    assert story.ask(19.0, who="Bo").replaced == "21.0° Ana until 22:00"
    assert "someone" in story.ask(19.0, who=None).sentence
    assert len(story.do(Ask("study", 19.0, who="x" * 5000 + "\n")).sentence) < 200


def test_everyone_out_holds_the_frost_floor_until_its_end():
    """Out until: frost floor, whose wish it is, no asks meanwhile; a request that still holds comes back."""
    story = Story(air=18.0).run(1)
    story.ask(21.0, story.moment.wall + timedelta(hours=6))
    story.out(until=story.moment.wall + timedelta(hours=2), who="Bo")
    story.run(1)
    assert (target(story).celsius, target(story).whose, target(story).code) == (7.0, "Bo", "out")
    assert not story.on()
    assert story.ask(21.0).code == "everyone-out"
    assert story.run(20, study=6.0).on(), "this heater may run away"
    story.run(100)
    assert target(story.run(1)).celsius == 21.0


def test_out_without_an_end_stays_until_taken_back():
    """Out until cancelled; Cancel of nothing says so."""
    story = Story(air=18.0).run(1)
    assert story.cancel(Out).code == "nothing-to-cancel"
    story.out()
    story.run(hours=3)
    assert story.result.house.out
    assert isinstance(story.cancel(Out), Accepted)
    assert target(story.run(1)).celsius == 20.0


def test_cancel_takes_a_request_back():
    """Cancel(room) returns to the usual week; an unknown name is refused."""
    story = Story().run(1)
    story.ask(22.0)
    assert isinstance(story.cancel("study"), Accepted)
    assert target(story.run(1)).whose == "usual"
    assert story.cancel("study").code == "nothing-to-cancel"
    assert story.cancel("attic").code == "no-such-room"
    assert story.do(Cancel(None)).code == "no-such-room"
    assert story.do(Seen("study/column/ghost")).code == "no-such-trouble"


def test_requests_end_by_steady_time_while_the_wall_clock_jumps():
    """An hour asked for is an hour, whatever the wall says; and then the usual week's target is held."""
    for hours in (-1, 1, -24 * 365):
        story = Story(air=18.0).run(1)
        story.ask(22.0, story.moment.wall + timedelta(minutes=20))
        asked = story.steady
        story.run(5).jump_wall(hours)
        story.run(10)
        assert target(story).celsius == 22.0
        ended = story.until(lambda s: target(s).whose == "usual", hours=1)
        assert ended - asked == pytest.approx(1200, abs=10)
        assert (target(story).celsius, target(story).code) == (20.0, "held")


def test_out_of_season_the_usual_week_rests_at_the_frost_floor():
    """Outside [house] season a room is held at frost; a request still counts."""
    story = Story(study(house='season = { from = "10-01", to = "04-30" }'), "2026-07-01 12:00", air=5.0).run(2)
    assert (target(story).celsius, target(story).code) == (7.0, "frost")
    story.ask(20.0)
    assert target(story.run(1)).celsius == 20.0


def test_what_was_asked_is_acknowledged_in_utc():
    """An answer's end is an aware time."""
    story = Story().run(1)
    answer = story.ask(21.0, NO_END)
    assert answer.until.tzinfo is UTC


def test_a_room_let_cool_says_so():
    """After a fall in target the room is cooling down; no interlock speaks that has nothing to take away."""
    story = Story(air=20.5).run(2)
    story.ask(16.0)
    story.run(20)
    assert not story.on()
    assert story.result.rooms["study"].reason.code == "cooling-down"
