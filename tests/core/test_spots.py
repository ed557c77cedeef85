"""Spots that start at their usual times, and what their heat does, bound by bound. All invented."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import PANEL, SPOT, house_of, study
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HeaterMemory, Memory, RequestMemory
from thermostatd.core.results import Event
from thermostatd.core.spots import felt, start_usual, warmer_kelvin
from thermostatd.physics.comfort import warmer_before_a_panel

TIMES = 'unasked = "accepted"\nusual = [{ days = "mon", at = "12:00", minutes = 40 }, { at = "23:59", minutes = 100 }]'


def usual_of(more=TIMES, house="", may='["awake", "asleep", "away"]'):
    """The house of the sewing table and what is said of its usual times."""
    spot = SPOT.replace("[spot.heater]", f"{more}\n[spot.heater]").replace('["awake", "asleep", "away"]', may)
    return house_of(study(more=spot, house=house))


def started(house=None, seconds=10.0, memory=None, gone=0.0, **now):
    """What starts so many seconds after Monday's noon, and the memory."""
    kept = memory or Memory(heaters={PANEL: HeaterMemory()})
    moment = now_at(seconds=seconds, wall=NOON + timedelta(seconds=gone), **now)
    return start_usual(house or usual_of(), kept, moment), kept


def test_a_usual_time_starts_a_spot_like_a_request():
    """By its minutes, and told."""
    events, memory = started(gone=5.0)
    assert events == [
        Event("usual-spot", "sewing table", "A usual time of this place: warmth for 40 minutes.")
    ]
    wall = NOON.timestamp() + 5.0
    assert memory.spots == {
        "sewing table": RequestMemory("usual", "house file", wall, NOW + 2400.0, wall + 2400.0)
    }


@pytest.mark.parametrize(
    ("gone", "seconds", "starts"),
    [(0.0, 10.0, True), (-0.5, 10.0, False), (9.9, 10.0, True), (10.0, 10.0, False), (119.0, 600.0, True),
     (120.0, 600.0, False), (86400.0, 10.0, False), (7 * 86400.0, 10.0, True)],
)  # fmt: skip
def test_it_starts_in_the_step_after_its_time(gone, seconds, starts):
    """Once; not after two minutes, nor on another day."""
    assert bool(started(gone=gone, seconds=seconds)[0]) is starts


def test_the_longest_holds_for_a_usual_time_too():
    """And a time just before midnight still starts just after it, by the day before."""
    events, memory = started(gone=43200.0 - 60.0 + 70.0, seconds=80.0)
    assert events[0].sentence == "A usual time of this place: warmth for 100 minutes."
    assert memory.spots["sewing table"].ends == NOW + 5400.0
    sunday = usual_of(TIMES.replace('{ at = "23:59"', '{ days = "sun", at = "23:59"'))
    assert started(sunday, gone=43200.0 - 60.0 + 70.0, seconds=80.0)[0] == []
    monday = usual_of(TIMES.replace('{ at = "23:59"', '{ days = "mon", at = "23:59"'))
    assert len(started(monday, gone=43200.0 - 60.0 + 70.0, seconds=80.0)[0]) == 1


@pytest.mark.parametrize(
    "house",
    [
        usual_of(TIMES.replace('unasked = "accepted"\n', "").replace("usual = ", "#")),
        usual_of('unasked = "accepted"'),
        usual_of(TIMES.replace('unasked = "accepted"\n', "")),
        usual_of(house='asleep = { from = "11:00", to = "13:00" }', may='["awake"]'),
    ],
)
def test_it_starts_on_the_owners_word_alone(house):
    """Not without it, not without a time, not when the heater may not run."""
    assert started(house)[0] == []


def test_a_usual_time_is_one_of_the_houses_own_clock():
    """13 o'clock in Oslo is noon by UTC; half past midnight is another day there."""
    oslo = ZoneInfo("Europe/Oslo")
    for at, days, gone, starts in (("13:00", "mon", 5.0, True), ("12:00", "mon", 5.0, False),
                                   ("00:30", "tue", 41_405.0, True), ("00:30", "mon", 41_405.0, False)):  # fmt: skip
        house = usual_of(f'unasked = "accepted"\nusual = [{{ days = "{days}", at = "{at}", minutes = 40 }}]')
        kept = Memory(heaters={PANEL: HeaterMemory()})
        now = replace(now_at(wall=NOON + timedelta(seconds=gone)), zone=oslo)
        assert bool(start_usual(house, kept, now)) is starts


def test_it_starts_while_the_house_sleeps_where_it_may():
    """By what the heater may do then."""
    assert started(usual_of(house='asleep = { from = "11:00", to = "13:00" }'))[0]


@pytest.mark.parametrize("field", ["out", "all_off"])
def test_it_does_not_start_in_place_of_what_people_said(field):
    """Nor over a request that runs, nor while the clock is doubted."""
    said = RequestMemory("Ana", "direct", 0.0, None, None)
    assert started(memory=Memory(heaters={PANEL: HeaterMemory()}, **{field: said}))[0] == []
    running = Memory(heaters={PANEL: HeaterMemory()}, spots={"sewing table": said})
    assert started(memory=running)[0] == []
    assert running.spots == {"sewing table": said}
    assert started(doubted=NOW - 5.0)[0] == []


def test_one_spot_that_does_not_start_leaves_the_next():
    """Each by its own time."""
    second = SPOT.replace("sewing table", "bench").replace("[spot.heater]", f"{TIMES}\n[spot.heater]")
    both = house_of(study(more=SPOT + second))
    memory = Memory(heaters={PANEL: HeaterMemory(), "bench/panel": HeaterMemory()})
    assert [event.about for event in started(both, memory=memory)[0]] == ["bench"]


def test_how_much_warmer_it_feels_goes_by_what_it_draws():
    """Half of an infrared panel's watts are radiant, at the owner's metres; said in words."""
    house = usual_of("metres = 2.0")
    spot = house.spots[0]
    from thermostatd.physics.heater_kinds import MAKES

    share = MAKES["infrared"].radiant_share
    assert warmer_kelvin(spot, HeaterMemory()) == warmer_before_a_panel(900.0 * share, 2.0, 18.0)
    metered = HeaterMemory(facts=HeaterFacts(level_watts=500.0))
    assert warmer_kelvin(spot, metered) == warmer_before_a_panel(500.0 * share, 2.0, 18.0)
    assert f"{warmer_kelvin(spot, metered):.1f}° warmer 2.0 m in front of it" in felt(spot, metered)
