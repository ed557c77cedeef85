"""The one door: what is accepted, what is refused and why, and what is kept of either. All names invented."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.asking import (
    NEXT_STEP,
    NO_END,
    Accepted,
    AllOff,
    Ask,
    Cancel,
    Out,
    Refused,
    RoomOff,
    Seen,
    SetTo,
    Stands,
    Undo,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.door import Door
from thermostatd.core.memory import (
    ClockMemory,
    HandMemory,
    HeaterMemory,
    Memory,
    RequestMemory,
    RoomMemory,
    TroubleMemory,
)
from thermostatd.core.results import Event
from thermostatd.core.usual_week import usual_step
from thermostatd.core.week import Week

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
DAY = (
    'usual = [{ days = "daily", at = "07:00", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
)
LIMITS = 'household = { lowest = 15, highest = 22, longest = "12 h" }'
TEN = NOON + timedelta(hours=10)
WALL = NOON.timestamp()
SLEEPS = 'asleep = { from = "11:00", to = "13:00" }'


class Home:
    """A door of the study and the sewing table, at noon."""

    def __init__(self, *, toml=None, now=None, **memory):
        self.house = house_of((toml or study(room=LIMITS, more=SPOT)).replace(ALWAYS, DAY))
        self.memory = Memory(
            rooms={"study": RoomMemory()},
            heaters={key: HeaterMemory() for key, _, _ in self.house.heaters()},
            **memory,
        )
        self.weeks = {"study": Week(self.house.rooms[0].usual, ZoneInfo("UTC"))}
        self.door = Door(self.house, self.memory, self.weeks)
        self.now = now or now_at()

    def ask(self, request, *, after=0.0):
        """One request, some seconds later."""
        return self.door.take(
            request, now_at(NOW + after, wall=NOON + timedelta(seconds=after)) if after else self.now
        )

    @property
    def request(self):
        """What is asked of the study."""
        return self.memory.rooms["study"].request


def test_a_wish_is_kept_until_the_next_step():
    """Who, from where, when, until when, and what it says."""
    home = Home()
    answer = home.ask(Ask("study", 21, who="Ana", origin="kitchen phone"))
    said = "Ana asked for 21.0° until 22:00."
    assert answer == Accepted(said, 21.0, TEN, None, 1)
    assert home.request == RequestMemory("Ana", "kitchen phone", WALL, NOW + 36000.0, TEN.timestamp(), 21.0)
    assert home.door.events == [Event("asked", "study", said)]


def test_a_wish_tells_what_it_replaced():
    """As plain text in memory."""
    home = Home()
    home.ask(Ask("study", 21.0, who="Ana"))
    answer = home.ask(Ask("study", 19.0, NO_END, "Bo"), after=60.0)
    assert answer == Accepted(
        "Bo asked for 19.0° until Tue 00:01.",
        19.0,
        NOON + timedelta(hours=12, minutes=1),
        "21.0° Ana until 22:00",
        2,
    )
    assert type(home.request.replaced) is str
    assert home.request.origin == "direct"


@pytest.mark.parametrize(
    ("until", "seconds"),
    [
        (NEXT_STEP, 36000.0),
        (NO_END, 43200.0),
        (NOON + timedelta(seconds=1), 1.0),
        (NOON + timedelta(hours=1), 3600.0),
        (NOON + timedelta(hours=12), 43200.0),
    ],
)
def test_an_end_becomes_steady_seconds(until, seconds):
    """The next step, the longest, or a time within it."""
    home = Home()
    assert isinstance(home.ask(Ask("study", 20.0, until)), Accepted)
    assert (home.request.ends, home.request.until_wall) == (NOW + seconds, WALL + seconds)


def test_the_next_step_is_no_later_than_the_longest():
    """Ten hours to the step, two hours allowed; and without a week the longest."""
    short = study(room=LIMITS.replace("12 h", "2 h"))
    home = Home(toml=short)
    home.ask(Ask("study", 20.0))
    assert home.request.ends == NOW + 7200.0
    home = Home(toml=short)
    home.weeks["study"] = Week((), ZoneInfo("UTC"))
    home.ask(Ask("study", 20.0))
    assert home.request.ends == NOW + 7200.0


WRONG_END = "That was not understood: an end is a time with its zone, the next step, or no end."


@pytest.mark.parametrize(
    ("ask", "refusal"),
    [
        (Ask("attic", 20.0), Refused("no-such-room", 'There is no room "attic".')),
        (Ask(None, 20.0), Refused("no-such-room", 'There is no room "?".')),
        (Ask("study", "warm"), Refused("not-a-number", "That is not a number: write degrees such as 20.5.")),
        (
            Ask("study", float("nan")),
            Refused("not-a-number", "That is not a number: write degrees such as 20.5."),
        ),
        (Ask("study", 22.1), Refused("too-warm", "22.0° is the warmest that may be asked for here.", 22.0)),
        (Ask("study", 14.9), Refused("too-cold", "15.0° is the coolest that may be asked for here.", 15.0)),
        (
            Ask("study", 20.0, NOON),
            Refused("in-the-past", "That time has passed already: choose a later one."),
        ),
        (
            Ask("study", 20.0, NOON + timedelta(hours=12, seconds=1)),
            Refused("too-long", "A request may hold for 12 hours at most.", "12 hours"),
        ),
        (Ask("study", 20.0, "soon"), Refused("not-understood", WRONG_END)),
        (Ask("study", 20.0, datetime(2026, 1, 12, 13)), Refused("not-understood", WRONG_END)),  # noqa: DTZ001
        (WarmMe("bench", 10.0), Refused("no-such-spot", 'There is no spot "bench".')),
        (WarmMe(5, 10.0), Refused("no-such-spot", 'There is no spot "5".')),
        (
            WarmMe("sewing table", 0.0),
            Refused("not-a-number", "That is not a number: write degrees such as 20.5."),
        ),
        (
            WarmMe("sewing table", "long"),
            Refused("not-a-number", "That is not a number: write degrees such as 20.5."),
        ),
        (
            WarmMe("sewing table", 90.1),
            Refused("too-long", "A request may hold for 90 minutes at most.", "90 minutes"),
        ),
        (Out(NEXT_STEP), Refused("not-understood", WRONG_END)),
        (Out(NOON), Refused("in-the-past", "That time has passed already: choose a later one.")),
        (
            Out(NOON + timedelta(days=366, seconds=1)),
            Refused("too-long", "A request may hold for 8784 hours at most.", "8784 hours"),
        ),
        (Cancel("study"), Refused("nothing-to-cancel", "There is nothing to take back: nothing was asked.")),
        (
            Cancel("sewing table"),
            Refused("nothing-to-cancel", "There is nothing to take back: nothing was asked."),
        ),
        (Cancel(Out), Refused("nothing-to-cancel", "There is nothing to take back: nothing was asked.")),
        (Cancel("attic"), Refused("no-such-room", 'There is no room "attic".')),
        (Cancel(7), Refused("no-such-room", 'There is no room "7".')),
        (Seen("study/clock"), Refused("no-such-trouble", 'There is no trouble "study/clock" now.')),
        (Seen(["x"]), Refused("no-such-trouble", """There is no trouble "['x']" now.""")),
        (UsualWeek("attic", None), Refused("no-such-room", 'There is no room "attic".')),
        (UsualWeek(None, None), Refused("no-such-room", 'There is no room "?".')),
        (
            UsualWeek("study", ("monday",)),
            Refused("not-understood", "That was not understood: a week is made of steps."),
        ),
        (
            UsualWeek("study", (usual_step([0], 60, 23.0),)),
            Refused("too-warm", "22.0° is the warmest that may be asked for here.", 22.0),
        ),
        (
            Undo(1),
            Refused(
                "nothing-to-undo",
                "That can no longer be undone: its minute is over, or someone asked again since.",
            ),
        ),
        ("warmer", Refused("not-understood", "That was not understood: str is no request.")),
        (Stands("attic/oil", "study"), Refused("no-such-heater", 'There is no heater "attic/oil".')),
        (SetTo("attic/oil", 600.0), Refused("no-such-heater", 'There is no heater "attic/oil".')),
        (
            SetTo("a\nb\x00" + 60 * "c", 600.0),
            Refused("no-such-heater", f'There is no heater "ab{38 * "c"}".'),
        ),
        (Stands(COLUMN, "a\nb"), Refused("no-such-room", 'There is no room "ab".')),
        (SetTo(COLUMN, 0.9), Refused("not-watts", "That is no power of a heater: write watts such as 600.")),
    ],
)
def test_a_refusal_says_why_with_its_limit_and_changes_nothing(ask, refusal):
    """Each in its own words."""
    home, same = Home(), Home()
    assert home.ask(ask) == refusal
    assert (home.memory, home.door.events) == (same.memory, [])


@pytest.mark.parametrize("celsius", [15.0, 22.0])
def test_the_limits_themselves_may_be_asked_for(celsius):
    """Lowest and highest."""
    assert isinstance(Home().ask(Ask("study", celsius)), Accepted)


@pytest.mark.parametrize(("until", "words"), [(None, ""), (TEN.timestamp(), " until 22:00")])
def test_while_everyone_is_out_nothing_is_asked(until, words):
    """Say first that someone is back."""
    home = Home(out=RequestMemory("Bo", "direct", WALL, None, until))
    said = f"Everyone is out{words}. Say first that someone is back."
    assert home.ask(Ask("study", 20.0)) == Refused("everyone-out", said)


def test_a_wish_says_what_stands_in_its_way():
    """All off; or no heater that may run now."""
    home = Home(all_off=RequestMemory("Bo", "direct", WALL, None, None))
    answer = home.ask(Ask("study", 21.0, who="Ana"))
    assert answer.sentence == (
        "Ana asked for 21.0° until 22:00. Everything is off now; it holds once heating is on again."
    )
    may = 'may_run = ["awake", "asleep", "away"]'
    for allowed, words in (
        ('may_run = ["awake"]', " No heater may run here now. The house is asleep."),
        (may, ""),
    ):
        home = Home(toml=study(house=SLEEPS, room=LIMITS).replace(may, allowed))
        assert home.ask(Ask("study", 21.0, who="Ana")).sentence == f"Ana asked for 21.0° until 22:00.{words}"


def test_who_asks_has_the_last_word_over_a_button():
    """A press ends with a wish for its room, or its spot, and no other."""
    home = Home()
    for kept in home.memory.heaters.values():
        kept.hand = HandMemory(True, NOW + 60.0, 0.0)
    home.ask(Ask("study", 20.0))
    assert [kept.hand is None for kept in home.memory.heaters.values()] == [True, False]
    home.ask(WarmMe("sewing table", 10.0))
    assert home.memory.heaters[PANEL].hand is None


def test_warmth_at_a_spot_is_kept_for_its_minutes():
    """And a second wish says what was left."""
    home = Home()
    answer = home.ask(WarmMe("sewing table", 90.0, "Bo"))
    said = "Bo asked for warmth for 90 minutes."
    assert answer == Accepted(said, None, NOON + timedelta(minutes=90), None, 1)
    kept = RequestMemory("Bo", "direct", WALL, NOW + 5400.0, WALL + 5400.0)
    assert home.memory.spots == {"sewing table": kept}
    answer = home.ask(WarmMe("sewing table", 20.0, "Ana"), after=1800.0)
    longer = "Ana asked for warmth for 20 minutes from now, in place of the 60 that were left."
    assert answer == Accepted(longer, None, NOON + timedelta(minutes=50), "Bo until 13:30", 2)
    assert home.door.events == [
        Event("warm-me", "sewing table", said),
        Event("warm-longer", "sewing table", longer),
    ]


def test_a_spot_does_not_start_while_all_is_off_or_when_it_may_not():
    """Each is said."""
    home = Home(all_off=RequestMemory("Bo", "direct", WALL, None, None))
    off = "Everything is off. Turn heating on again first."
    assert home.ask(WarmMe("sewing table", 9.0)) == Refused("everything-off", off)
    may = 'may_run = ["awake", "asleep", "away"]'
    home = Home(toml=study(house=SLEEPS, room=LIMITS, more=SPOT.replace(may, 'may_run = ["awake"]')))
    assert home.ask(WarmMe("sewing table", 9.0)) == Refused(
        "spot-not-now", "The house is asleep, and the owner has not allowed this heater then."
    )


def test_everyone_out_is_kept():
    """Until a time, or until someone is back; asked again, the return is moved, and it says what it replaced."""
    home = Home()
    assert home.ask(Out(TEN, "Ana")) == Accepted(
        "Ana said that everyone is out until 22:00.", None, TEN, None, 1
    )
    assert home.memory.out == RequestMemory("Ana", "direct", WALL, NOW + 36000.0, TEN.timestamp())
    answer = home.ask(Out(who="Bo", origin="hall"), after=5.0)
    said = "Bo moved the return: everyone is out until someone is back."
    assert answer == Accepted(said, None, None, "Ana until 22:00", 2)
    assert home.memory.out == RequestMemory("Bo", "hall", WALL + 5.0, None, None, None, "Ana until 22:00")
    assert home.door.events[-1] == Event("out-moved", "house", said)
    assert isinstance(home.ask(Out(NOON + timedelta(days=366))), Accepted)


def test_everyone_out_ends_what_warms_a_person():
    """Or it would come on by itself, in an empty house or once they are back."""
    home = Home(spots={"sewing table": RequestMemory("Bo", "direct", WALL, NOW + 6000.0, None)})
    assert isinstance(home.ask(Out(TEN, "Ana")), Accepted)
    assert home.memory.spots == {}


def test_a_return_that_is_moved_ends_nothing():
    """A wish of before, and warmth asked for while everyone was out, stay as they are; undone, the time is back."""
    home = Home()
    home.ask(Ask("study", 21.0, TEN, "Bo"))
    home.ask(Out(TEN, "Ana"))
    warm = RequestMemory("Bo", "direct", WALL, NOW + 6000.0, None)
    home.memory.spots["sewing table"] = warm
    answer = home.ask(Out(TEN - timedelta(hours=2), "Bo"), after=60.0)
    assert answer.until == TEN - timedelta(hours=2)
    assert (home.request.celsius, home.memory.spots) == (21.0, {"sewing table": warm})
    assert home.memory.out.ends == NOW + 36000.0 - 7200.0
    refused = home.ask(Out(NOON - timedelta(hours=1)), after=61.0)
    assert (refused.code, home.memory.out.until_wall) == ("in-the-past", answer.until.timestamp())
    home.ask(Undo(answer.change), after=62.0)
    assert (home.memory.out.who, home.memory.out.ends) == ("Ana", NOW + 36000.0)


def test_a_room_off_alone_is_kept():
    """Until a time, the week's next step, or until someone turns it on again; what was asked is replaced."""
    home = Home()
    home.ask(Ask("study", 21.0, TEN, "Bo"))
    home.memory.heaters[COLUMN].hand = HandMemory(True, NOW + 60.0, 0.0)
    answer = home.ask(RoomOff("study", TEN, "Ana"), after=5.0)
    said = "Ana turned this room off until 22:00."
    assert answer == Accepted(said, None, TEN, "21.0° Bo until 22:00", 2)
    assert (home.request.off, home.request.celsius, home.request.ends) == (True, None, NOW + 36000.0)
    assert home.memory.heaters[COLUMN].hand is None
    assert home.door.events[-1] == Event("turned-off", "study", said)
    assert home.ask(RoomOff("study", NEXT_STEP), after=6.0).until == TEN
    endless = home.ask(RoomOff("study", who="Ana"), after=7.0)
    assert endless.sentence == "Ana turned this room off until someone turns it on again."
    assert (endless.until, home.request.ends, endless.replaced) == (None, None, "off someone until 22:00")
    home.ask(Undo(endless.change), after=8.0)
    assert home.request.ends == NOW + 36000.0
    home.ask(Undo(answer.change), after=8.0)
    assert home.request.off, "a later change made the first one final"


def test_a_room_off_is_turned_on_again():
    """By taking it back, or by asking for degrees."""
    home = Home()
    home.ask(RoomOff("study", who="Ana"))
    assert home.ask(Cancel("study", "Bo"), after=1.0).sentence == "Bo turned the room on again."
    assert home.request is None
    home.ask(RoomOff("study", who="Ana"), after=2.0)
    assert home.ask(Ask("study", 21.0), after=3.0).replaced == "off Ana"
    assert (home.request.off, home.request.celsius) == (False, 21.0)


def test_a_room_without_a_week_is_off_until_someone_turns_it_on():
    """It has no next step."""
    home = Home(toml=study(room=LIMITS).replace(ALWAYS, ""))
    home.weeks["study"] = Week((), ZoneInfo("UTC"))
    home.ask(RoomOff("study", NEXT_STEP))
    assert (home.request.off, home.request.ends) == (True, None)


@pytest.mark.parametrize(
    ("ask", "code"),
    [
        (RoomOff("attic"), "no-such-room"),
        (RoomOff(None), "no-such-room"),
        (RoomOff("study", NOON - timedelta(hours=1)), "in-the-past"),
        (RoomOff("study", NOON + timedelta(days=367)), "too-long"),
        (RoomOff("study", "tomorrow"), "not-understood"),
    ],
)
def test_a_room_is_not_turned_off_by_what_is_none(ask, code):
    """No such room, no such end: nothing is changed."""
    home = Home()
    assert home.ask(ask).code == code
    assert home.request is None


def test_a_room_is_off_beneath_everyone_out():
    """It takes heat away: nothing stands in its way."""
    home = Home(out=RequestMemory("Bo", "direct", WALL, None, None))
    assert isinstance(home.ask(RoomOff("study")), Accepted)


def test_all_off_ends_spots_and_presses_to_on():
    """Nothing that a person started comes back by itself; a press to OFF holds."""
    home = Home(spots={"sewing table": RequestMemory("Bo", "direct", WALL, NOW + 60.0, None)})
    home.memory.heaters[COLUMN].hand = HandMemory(True, NOW + 60.0, 0.0)
    home.memory.heaters[PANEL].hand = HandMemory(False, NOW + 60.0, 0.0)
    said = "Ana turned everything off."
    assert home.ask(AllOff("Ana")) == Accepted(said, None, None, None, 1)
    assert home.memory.all_off == RequestMemory("Ana", "direct", WALL, None, None)
    assert home.memory.spots == {}
    assert (home.memory.heaters[COLUMN].hand, home.memory.heaters[PANEL].hand) == (
        None,
        HandMemory(False, NOW + 60.0, 0.0),
    )
    assert home.door.events == [Event("said-all-off", "house", said)]
    assert home.ask(AllOff("Bo"), after=9.0).replaced == "Ana"


def test_what_ended_before_a_request_is_told_as_ended():
    """Between two steps, whatever is asked then, and taken or not."""
    home = Home(spots={"sewing table": RequestMemory("Bo", "direct", WALL, NOW + 5.0, None)})
    home.ask(Ask("study", 99.0), after=6.0)
    assert [(event.code, event.about) for event in home.door.events] == [("request-ended", "sewing table")]


TOOK_BACK = "Ana took back the 21.0° until 22:00 that Bo had asked for."
ENDED_WARMTH = "Ana ended the warmth that Bo had asked for."


@pytest.mark.parametrize(
    ("first", "what", "about", "said"),
    [
        (Ask("study", 21.0, who="Bo"), "study", "study", TOOK_BACK),
        (WarmMe("sewing table", 60.0, "Bo"), "sewing table", "sewing table", ENDED_WARMTH),
        (Out(who="Bo"), Out, "house", "Ana said that someone is back."),
        (AllOff("Bo"), AllOff, "house", "Ana turned heating on again."),
    ],
)
def test_what_was_asked_can_be_taken_back(first, what, about, said):
    """And nothing of it is left."""
    home = Home()
    home.ask(first)
    assert home.ask(Cancel(what, "Ana"), after=9.0) == Accepted(said, None, None, None, 2)
    assert home.door.events[-1] == Event("cancelled", about, said)
    assert (home.request, home.memory.out, home.memory.all_off, home.memory.spots) == (None, None, None, {})


def test_the_owner_has_looked():
    """The trouble is seen, its latch opens."""
    home = Home(
        troubles={f"{COLUMN}/warm-plug": TroubleMemory(5.0), "house/clock": TroubleMemory(5.0)},
        clock=ClockMemory(offset=1.0, doubted_since=5.0, candidate=WALL - NOW),
    )
    home.memory.heaters[COLUMN].notes["warm-plug"] = {"latched": True}
    assert home.ask(Seen(f"{COLUMN}/warm-plug", "Ana")) == Accepted("Ana has looked at it.")
    assert home.memory.troubles[f"{COLUMN}/warm-plug"].seen
    assert home.memory.heaters[COLUMN].notes["warm-plug"] == {}
    assert home.door.events == [Event("seen", COLUMN, "Ana has looked at it.")]
    assert home.memory.clock.doubted_since == 5.0
    home.ask(Seen("house/clock"))
    assert (home.memory.clock.doubted_since, home.memory.clock.offset) == (None, WALL - NOW)
    assert home.door.events[-1] == Event("seen", "house", "someone has looked at it.")


NEW = (usual_step(range(7), 480, 21.0),)


def test_a_usual_week_is_put_over_the_files_and_back():
    """By name and time; the same steps in another order are the file's."""
    home = Home()
    assert home.ask(UsualWeek("study", NEW, "Ana")) == Accepted("Ana changed the usual week.", change=1)
    kept = home.memory.rooms["study"].week
    assert (kept.steps, kept.who, kept.changed_wall) == ([[127.0, 480.0, 21.0]], "Ana", WALL)
    assert home.weeks["study"].at(NOON)[0] == 21.0
    assert home.door.events == [Event("week-changed", "study", "Ana changed the usual week.")]
    same = tuple(reversed(home.house.rooms[0].usual))
    back = "Ana put the house file's week back."
    assert home.ask(UsualWeek("study", same, "Ana")) == Accepted(back, change=2)
    assert home.memory.rooms["study"].week is None
    assert home.weeks["study"].at(NOON)[0] == 20.0
    home.ask(UsualWeek("study", NEW))
    assert home.ask(UsualWeek("study", None, "Ana")).sentence == back
    assert home.door.events[-1] == Event("week-put-back", "study", back)


def test_a_change_is_undone_within_its_minute():
    """What held before holds again, and the week with it."""
    home = Home()
    home.ask(Ask("study", 21.0, who="Ana"))
    before = home.request
    change = home.ask(Ask("study", 19.0, who="Bo"), after=5.0).change
    assert home.ask(Undo(change, "Ana"), after=74.0) == Accepted("Ana took the last change back.")
    assert home.request == before
    assert home.door.events[-1] == Event("undone", "study", "Ana took the last change back.")
    change = home.ask(UsualWeek("study", NEW)).change
    home.ask(Undo(change))
    assert home.weeks["study"].at(NOON)[0] == 20.0
    change = home.ask(Out(), after=100.0).change
    assert isinstance(home.ask(Undo(change), after=170.0), Refused)
    assert isinstance(home.ask(Undo(change), after=169.0), Accepted)
    assert home.door.events[-1].about == "house"


def test_what_ended_meanwhile_stays_ended():
    """An undo brings back nothing whose time has passed; and says that it ended."""
    home = Home()
    home.ask(WarmMe("sewing table", 1.0, "Bo"))
    change = home.ask(WarmMe("sewing table", 20.0, "Ana"), after=30.0).change
    home.door.events.clear()
    assert isinstance(home.ask(Undo(change), after=61.0), Accepted)
    assert home.memory.spots == {}
    assert [event.code for event in home.door.events] == ["request-ended", "undone"]


def test_an_undo_tells_what_was_accepted_before_it_too():
    """All that happened since the last step, in its order."""
    home = Home()
    change = home.ask(Ask("study", 21.0)).change
    home.ask(Undo(change))
    assert [event.code for event in home.door.events] == ["asked", "undone"]


def test_a_week_that_people_put_there_is_read_by_the_houses_clock():
    """Eight in Oslo is seven in winter."""
    home = Home(toml=study(zone="Europe/Oslo", room=LIMITS))
    home.ask(UsualWeek("study", NEW))
    assert home.weeks["study"].at(NOON)[1] == (NOON + timedelta(hours=19)).timestamp()


def test_what_has_ended_is_not_replaced():
    """The door looks at the time first."""
    home = Home()
    home.ask(WarmMe("sewing table", 1.0, "Bo"))
    assert home.ask(WarmMe("sewing table", 1.0, "Ana"), after=60.0).replaced is None


@pytest.mark.parametrize(
    ("who", "kept"),
    [
        (None, "someone"),
        ("", "someone"),
        ("  Ana \n", "Ana"),
        ("A\x00n\na", "Ana"),
        ("x" * 50, "x" * 40),
        (7, "7"),
        ("\n\t", "someone"),
    ],
)
def test_a_name_is_kept_as_one_printable_line(who, kept):
    """Forty signs at most."""
    home = Home()
    home.ask(Ask("study", 20.0, who=who, origin=who))
    assert home.request.who == kept
    assert home.request.origin == ("direct" if kept == "someone" else kept)


@pytest.mark.parametrize(
    ("longest", "words"),
    [
        ("90 min", "90 minutes"),
        ("3 h", "3 hours"),
        ("10801 s", "3 hours"),
        ("4 h", "4 hours"),
        ("1 h", "1 hours"),
        ("200 min", "3.3 hours"),
        ("179 min", "179 minutes"),
        ("2 h", "2 hours"),
    ],
)
def test_a_limit_of_time_is_said_in_hours_or_minutes(longest, words):
    """Minutes under three hours that are no whole hours."""
    home = Home(toml=study(room=LIMITS.replace("12 h", longest)))
    assert home.ask(Ask("study", 20.0, NOON + timedelta(days=2))).limit == words


TWO = (
    study(room=LIMITS, heater="settings_watts = [600, 1200]")
    + """
[[room]]
name = "den"
sensor = { topic = "den/air" }
"""
)


def test_a_carried_heater_counts_on_the_circuit_of_the_room_it_stands_in():
    """That of the room's own heaters is named."""
    other = """
[[circuit]]
name = "south"
breaker_amps = 10
"""
    heater = """
[[room.heater]]
name = "panel"
kind = "panel"
watts = 400
circuit = "south"
plug = { kind = "simulated" }
"""
    home = Home(toml=TWO + heater + other)
    home.memory.rooms["den"] = RoomMemory()
    said = home.ask(Stands(COLUMN, "den", "Ana")).sentence
    assert said.startswith("Ana said that column now stands in den. It counts on the circuit south; ")


def test_a_heater_that_was_carried_stands_elsewhere():
    """The house as it stands has it in the other room, and says so."""
    home = Home(toml=TWO)
    home.memory.rooms["den"] = RoomMemory()
    answer = home.ask(Stands(COLUMN, "den", "Ana"))
    said = (
        "Ana said that column now stands in den. It counts on the circuit north; "
        "if its plug is in a socket of another circuit, write that in the house file."
    )
    assert answer == Accepted(said)
    assert [room.name for room in home.door.house.rooms if room.heaters] == ["den"]
    assert home.door.events == [Event("stands", COLUMN, said)]
    assert (home.memory.heaters[COLUMN].placed.who, home.memory.heaters[COLUMN].placed.said_wall) == (
        "Ana",
        WALL,
    )


def test_a_refusal_lists_all_of_a_selectors_settings():
    """However many."""
    settings = ", ".join(f"{watts} W" for watts in range(600, 1400, 100))
    home = Home(toml=study(heater=f"settings_watts = {list(range(700, 1400, 100))}"))
    assert home.ask(SetTo(COLUMN, 650.0)).sentence == f"Its selector has {settings}: choose one of them."


def test_a_selector_that_was_turned_is_set_to_other_watts():
    """The house as it stands has them."""
    home = Home(toml=TWO)
    home.memory.rooms["den"] = RoomMemory()
    said = "Ana said that column is now set to 1200 W."
    assert home.ask(SetTo(COLUMN, 1200.0, "Ana")) == Accepted(said)
    assert home.door.house.rooms[0].heaters[0].watts == 1200.0
    assert home.memory.heaters[COLUMN].placed.who == "Ana"
    assert home.door.events == [Event("set-to", COLUMN, said)]
    refused = home.ask(SetTo(COLUMN, 700.0))
    assert refused.code == "no-such-setting"
    assert datetime.fromtimestamp(home.memory.heaters[COLUMN].placed.said_wall, UTC) == NOON
