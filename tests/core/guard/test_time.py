"""Interlocks that go by time, people and the program itself, at the very edges of their bounds."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import BLIND, NOW, SIMULATED, case_of, good, now_at, trips
from tests.stories.teller import PANEL, study
from thermostatd.core.guard import all_off, clock, longest_run, not_allowed_now, starting, stopping
from thermostatd.core.memory import RequestMemory
from thermostatd.core.values import Missing


def asked(ends=None):
    """Something that Ana asked at 11:30."""
    at = datetime(2026, 1, 12, 11, 30, tzinfo=UTC).timestamp()
    return RequestMemory("Ana", "", at, ends, None)


def test_all_off_says_who_and_when():
    """It holds for as long as it was not taken back, and names the one who said so."""
    case = case_of()
    assert all_off.judge(case) == good("all-off")
    case.memory.all_off = asked()
    assert all_off.judge(case) == trips("all-off", who="Ana", at="11:30")


def test_going_down_trips():
    """While the program goes down, and not before."""
    assert stopping.judge(case_of()) == good("stopping")
    assert stopping.judge(case_of(stopping=True)) == trips("stopping")


@pytest.mark.parametrize(("since", "tripped"), [(None, False), (NOW - 1799.0, False), (NOW - 1800.0, True)])
def test_clocks_that_disagree_are_held_for_half_an_hour(since, tripped):
    """From the half hour on it trips, says since when, and by how much the clock jumped."""
    said = clock.judge(case_of(now=now_at(doubted=since, jump=7200.0)))
    expected = trips("clock", trouble=True, since="11:30", evidence="It jumped by 120 minutes.")
    assert said == (expected if tripped else good("clock"))


@pytest.mark.parametrize(
    ("told_on", "ran", "tripped"),
    [
        (True, 7199.0, False),
        (True, 7200.0, True),
        (False, 9000.0, False),
        (True, None, False),
    ],
)
def test_a_run_ends_at_its_longest(told_on, ran, tripped):
    """At `longest_run`, not before, and only a run that goes on."""
    case = case_of(
        toml=study(heater='longest_run = "2 h"'), told_on=told_on, on_since=None if ran is None else NOW - ran
    )
    evidence = "It ran for 2.0 hours."
    assert longest_run.judge(case) == (
        trips("longest-run", hours=2.0, evidence=evidence) if tripped else good("longest-run")
    )
    assert case.kept.notes["longest-run"].get("rest_until") == (NOW + 600.0 if tripped else None)


@pytest.mark.parametrize(("rest_until", "tripped"), [(NOW + 1.0, True), (NOW, False), (NOW - 1.0, False)])
def test_a_rest_ends_at_its_second(rest_until, tripped):
    """Ten minutes of rest, and on again at the second."""
    case = case_of(notes={"longest-run": {"rest_until": rest_until}})
    assert longest_run.judge(case).tripped is tripped


@pytest.mark.parametrize(
    ("ends", "until"),
    [
        (NOW + 4000.0, NOW + 4000.0),
        (NOW + 60.0, NOW + 600.0),
        (None, NOW + 600.0),
        ("none", NOW + 600.0),
    ],
)
def test_a_spot_past_its_longest_run_rests_until_what_was_asked_ends(ends, until):
    """The request is over with it, ten minutes at least, and the household is told."""
    case = case_of(key=PANEL, told_on=True, on_since=NOW - 12 * 3600.0)
    if ends != "none":
        case.memory.spots["sewing table"] = asked(ends)
    assert longest_run.judge(case) == trips(
        "longest-run", hours=12.0, trouble=True, evidence="It ran for 12.0 hours."
    )
    assert case.kept.notes["longest-run"]["rest_until"] == until


def test_a_rooms_rest_goes_by_no_spots_request():
    """A spot that bears the room's name has no say in the room's rest."""
    case = case_of(told_on=True, on_since=NOW - 12 * 3600.0)
    case.memory.spots["study"] = asked(NOW + 9000.0)
    longest_run.judge(case)
    assert case.kept.notes["longest-run"]["rest_until"] == NOW + 600.0


SLEEPS = 'asleep = { from = "23:00", to = "06:30" }'
NIGHT = datetime(2026, 1, 12, 23, 30, tzinfo=UTC)
ALWAYS = 'may_run = ["awake", "asleep", "away"]'


@pytest.mark.parametrize(
    ("may_run", "out", "wall", "then"),
    [
        (ALWAYS, True, NIGHT, None),
        (ALWAYS, False, NIGHT, None),
        ('may_run = ["awake"]', False, NIGHT, "The house is asleep"),
        ('may_run = ["awake"]', True, NIGHT, "Everyone is out"),
        ('may_run = ["awake", "asleep"]', True, NIGHT, "Everyone is out"),
        ('may_run = ["awake", "away"]', False, NIGHT, "The house is asleep"),
    ],
)
def test_a_heater_runs_only_when_the_owner_allowed_it(may_run, out, wall, then):
    """Awake, asleep and away each need the owner's word."""
    case = case_of(toml=study(house=SLEEPS).replace(ALWAYS, may_run), now=now_at(wall=wall))
    case.memory.out = asked() if out else None
    said = not_allowed_now.judge(case)
    assert said == (trips("not-allowed-now", then=then) if then else good("not-allowed-now"))


@pytest.mark.parametrize(("hour", "asleep"), [(21, False), (22, True), (5, True), (6, False)])
def test_the_house_sleeps_by_its_own_clock(hour, asleep):
    """An hour ahead of UTC in an Oslo winter."""
    wall = datetime(2026, 1, 12, hour, 0, tzinfo=UTC)
    now = replace(now_at(wall=wall), zone=ZoneInfo("Europe/Oslo"))
    case = case_of(
        toml=study(house=SLEEPS, zone="Europe/Oslo").replace(ALWAYS, 'may_run = ["awake"]'), now=now
    )
    assert not_allowed_now.judge(case).tripped is asleep


@pytest.mark.parametrize(("out", "tripped"), [(False, False), (True, True)])
def test_a_plug_that_cannot_switch_itself_off_runs_while_people_are_awake_alone(out, tripped):
    """Whatever `may_run` says."""
    plug = 'plug = { kind = "mqtt", tell = "a/set", shows = { topic = "a" }, no_self_off = "accepted" }'
    case = case_of(toml=study().replace(SIMULATED, plug))
    case.memory.out = asked() if out else None
    assert not_allowed_now.judge(case).tripped is tripped


@pytest.mark.parametrize(
    ("since", "minutes", "told"),
    [
        (NOW - 599.0, "10", False),
        (NOW - 600.0, "10", False),
        (NOW - 601.0, "10", True),
        (NOW - 3600.0, "60", True),
        (None, "0", False),
    ],
)
def test_an_unheard_plug_is_waited_for_and_told_after_ten_minutes(since, minutes, told):
    """Until its own plug is heard a heater stays off; past ten minutes the household is told."""
    said = starting.judge(case_of(heard=False, waiting_since=since))
    assert said == trips(
        "starting",
        trouble=told,
        what="the plug of column",
        evidence=f"Not heard in {minutes} minutes since the start.",
    )


@pytest.mark.parametrize(("since", "tripped"), [(NOW - 600.0, True), (NOW - 601.0, False), (None, True)])
def test_an_unheard_sensor_is_waited_for_ten_minutes(since, tripped):
    """After that its silence is the business of another interlock."""
    case = case_of(air=Missing("never heard"), learned={"heard": False, "waiting_since": since})
    assert starting.judge(case) == (
        trips("starting", what="the room's sensor") if tripped else good("starting")
    )


def test_a_start_waits_for_nothing_that_cannot_speak():
    """A plug that tells nothing, and a spot without a sensor, are not waited for."""
    assert starting.judge(case_of(toml=study().replace(SIMULATED, BLIND), heard=False)) == good("starting")
    assert starting.judge(case_of(key=PANEL)) == good("starting")
    assert starting.judge(case_of()) == good("starting")
