"""Whose wish is the target, and when what was asked ends, at the very edges of the bounds."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import SPOT, house_of, study
from thermostatd.core.memory import Memory, RequestMemory, RoomMemory
from thermostatd.core.results import Event, Target
from thermostatd.core.target import end_requests, targets, usual
from thermostatd.core.week import Week

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
DAY = (
    'usual = [{ days = "daily", at = "07:00", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
)
HOURS = 3600.0
TEN = NOON + timedelta(hours=10)
USUAL = Target(20.0, "usual", "usual", TEN, 16.0, NOW + 36000.0)


def asked(celsius=None, *, ends=NOW + 60.0, until=None, who="Ana"):
    """Something that was asked."""
    return RequestMemory(who, "direct", 0.0, ends, until, celsius)


def aimed(*, now=None, toml=None, out=None, last=None, request=None):
    """The study's target, what happened, and the memory."""
    house = house_of((toml or study(more=SPOT)).replace(ALWAYS, DAY))
    memory = Memory(rooms={"study": RoomMemory(request=request, last_target=last)}, out=out)
    weeks = {"study": Week(house.rooms[0].usual, ZoneInfo("UTC"))}
    found, events = targets(house, memory, weeks, now or now_at())
    return found["study"], events, memory


def test_the_usual_week_is_the_target_and_is_remembered():
    """With its next step, on both clocks."""
    target, events, memory = aimed()
    assert (target, events) == (USUAL, [])
    assert memory.rooms["study"].last_target == 20.0


def test_everyone_out_is_the_frost_floor():
    """Whose word it was, and until when; a request is beaten by it."""
    assert aimed(out=asked(ends=None), request=asked(22.0))[0] == Target(7.0, "Ana", "out", None)
    until = asked(until=NOON.timestamp())
    assert aimed(out=until)[0] == Target(7.0, "Ana", "out", NOON, 20.0, NOW + 60.0)


SEASON = study(house='season = { from = "01-10", to = "01-13" }', more=SPOT)


@pytest.mark.parametrize(
    ("hours", "request_ends", "toml", "celsius"),
    [
        (9.9, None, None, 20.0),
        (10.0 - 31.0 / 3600.0, None, None, 20.0),
        (10.0 - 30.0 / 3600.0, None, None, 16.0),
        (10.0, None, None, 16.0),
        (18.9, None, None, 16.0),
        (67.0, None, None, 20.0),
        (7 * 24.0, None, None, 20.0),
        (7 * 24.0 + 0.1, None, None, None),
        (30.0, 30.1, None, 22.0),
        (30.0, 30.0, None, 20.0),
        (30.0, "never", None, 22.0),
        (35.9, None, SEASON, 16.0),
        (36.0, None, SEASON, 7.0),
    ],
)
def test_what_holds_when_everyone_is_back_is_known_ahead(hours, request_ends, toml, celsius):
    """The week's word of that time, a longer request's, or frost out of season; over a week ahead nobody can tell."""
    request = None
    if request_ends is not None:
        ends = None if request_ends == "never" else NOW + HOURS * request_ends
        request = asked(22.0, ends=ends)
    target, _, _ = aimed(out=asked(ends=NOW + HOURS * hours), request=request, toml=toml)
    assert target.celsius == 7.0
    assert target.next_celsius == celsius
    assert target.next_at == (None if celsius is None else NOW + HOURS * hours)


def test_a_request_beats_the_week():
    """With the week's temperature of when it ends."""
    evening = asked(22.0, ends=NOW + 11 * HOURS)
    assert aimed(request=evening)[0] == Target(22.0, "Ana", "asked", None, 16.0, NOW + 11 * HOURS)
    assert aimed(request=asked(22.0, ends=None))[0] == Target(22.0, "Ana", "asked")
    assert aimed(request=asked(22.0))[0] == Target(22.0, "Ana", "asked", None, 20.0, NOW + 60.0)
    until = asked(22.0, until=NOON.timestamp(), ends=NOW + 90.0)
    assert aimed(request=until)[0] == Target(22.0, "Ana", "asked", NOON, 20.0, NOW + 90.0)
    assert aimed(request=asked(None))[0] == USUAL


def test_while_the_clock_is_doubted_the_last_target_is_held():
    """The week's word of now is neither followed nor remembered; a request still is."""
    doubted = now_at(doubted=NOW - 60.0)
    target, _, memory = aimed(now=doubted, last=18.0)
    assert (target, memory.rooms["study"].last_target) == (Target(18.0, "usual", "held"), 18.0)
    assert aimed(now=doubted)[0] == Target(7.0, "frost", "frost")
    assert aimed(now=doubted, last=18.0, request=asked(22.0))[0].code == "asked"


@pytest.mark.parametrize(
    ("season", "frost"),
    [
        ("", False),
        ('season = { from = "01-12", to = "05-01" }', False),
        ('season = { from = "01-13", to = "05-01" }', True),
    ],
)
def test_out_of_season_the_frost_floor_holds(season, frost):
    """Both ends belong to it."""
    toml = study(house=season, more=SPOT)
    assert aimed(toml=toml)[0] == (Target(7.0, "frost", "frost", None) if frost else USUAL)


def test_a_room_without_a_week_is_kept_from_frost():
    """Nothing wanted, nothing next."""
    house = house_of(study().replace(ALWAYS, ""))
    assert usual(house, house.rooms[0], Week((), ZoneInfo("UTC")), now_at()) == Target(
        7.0, "frost", "frost", None
    )


@pytest.mark.parametrize(
    ("ends", "over"), [(NOW, True), (NOW - 1.0, True), (NOW + 1.0, False), (None, False)]
)
def test_what_was_asked_ends_at_its_second(ends, over):
    """Everyone out, a room's request and a spot's; and each end is told."""
    request = asked(21.0, ends=ends)
    memory = Memory(
        rooms={"study": RoomMemory(request=request)}, out=request, spots={"sewing table": request}
    )
    events = end_requests(memory, now_at())
    said = [
        Event("request-ended", about, "What Ana asked has ended.")
        for about in ("house", "study", "sewing table")
    ]
    assert events == (said if over else [])
    left = None if over else request
    assert (memory.out, memory.rooms["study"].request, memory.spots.get("sewing table")) == (left, left, left)


def test_one_end_leaves_the_others():
    """Each by its own time; and a step tells it."""
    _, events, memory = aimed(request=asked(21.0, ends=NOW))
    assert [event.about for event in events] == ["study"]
    memory = Memory(
        rooms={"a": RoomMemory(), "b": RoomMemory(request=asked(21.0, ends=NOW))},
        spots={"c": asked(ends=NOW + 1.0), "d": asked(ends=NOW)},
    )
    assert [event.about for event in end_requests(memory, now_at())] == ["b", "d"]
    assert list(memory.spots) == ["c"]


def test_a_season_goes_by_the_houses_own_date():
    """Half past eleven in the evening is the next day in Oslo."""
    late = replace(now_at(wall=NOON - timedelta(minutes=750)), zone=ZoneInfo("Europe/Oslo"))
    season = 'season = { from = "01-12", to = "05-01" }'
    assert aimed(toml=study(house=season, more=SPOT), now=late)[0].code == "usual"
    assert (
        aimed(toml=study(house=season, more=SPOT), now=replace(late, zone=ZoneInfo("UTC")))[0].code == "frost"
    )


def test_a_spots_usual_time_comes_with_the_targets():
    """After what has ended; kept in the memory."""
    times = 'unasked = "accepted"\nusual = [{ at = "12:00", minutes = 40 }]'
    toml = study(more=SPOT.replace("[spot.heater]", f"{times}\n[spot.heater]"))
    _, events, memory = aimed(toml=toml, request=asked(21.0, ends=NOW))
    assert [event.code for event in events] == ["request-ended", "usual-spot"]
    assert set(memory.spots) == {"sewing table"}
