"""Minimum times and quiet hours, at the very edges of their bounds."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, house_of, study
from thermostatd.core.demand import Wants
from thermostatd.core.memory import HandMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.pace import Paced, may_come_back, note_switching, pace
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Reason, Verdict
from thermostatd.core.values import Missing, Reading

WHY = Reason("warming", "Warming.")
SECOND_KEY = "study/second"
QUIET = 'quiet = [{ from = "22:00", to = "06:00", switches = 4 }]'
NIGHT = datetime(2026, 1, 12, 23, 30, tzinfo=UTC)
TEN = datetime(2026, 1, 12, 22, 0, tzinfo=UTC).timestamp()
TWO = study(room=QUIET, more=SECOND.format(name="second", watts=400))


def paced(*, on=True, why=WHY, toml=None, wall=NOON, air=19.0, room=None, second=None, **kept):
    """What pace makes of a wish for the study's column; and the memory."""
    house = house_of(toml or study())
    heaters = {
        key: HeaterMemory(**kept) if key == COLUMN else HeaterMemory(**(second or {}))
        for key, _, _ in house.heaters()
    }
    memory = Memory(rooms={"study": RoomMemory(**(room or {}))}, heaters=heaters)
    wants = Wants({}, dict.fromkeys(heaters, (on, why)))
    readings = Readings(
        {"study": air if isinstance(air, Missing) else Reading(air, NOW)}, Missing("none"), ()
    )
    return pace(house, memory, wants, readings, now_at(wall=wall)), memory


def held(on, code, **numbers):
    """Held, with the rule that speaks."""
    why = reason(code, **numbers)
    return Paced(on, why, (Verdict(code, True, why),))


@pytest.mark.parametrize(
    ("ran", "minutes"), [(0.0, 5.0), (239.0, 2.0), (240.0, 1.0), (299.0, 1.0), (300.0, None), (None, None)]
)
def test_a_run_is_finished_to_the_second(ran, minutes):
    """Five minutes on; what is left is said in whole minutes, one at least."""
    result, _ = paced(on=False, told_on=True, on_since=None if ran is None else NOW - ran)
    assert result[COLUMN] == (held(True, "spell", minutes=minutes) if minutes else Paced(False, WHY))


@pytest.mark.parametrize(
    ("rested", "minutes"), [(0.0, 5.0), (240.0, 1.0), (299.9, 1.0), (300.0, None), (None, None)]
)
def test_a_rest_is_kept_to_the_second(rested, minutes):
    """Five minutes off."""
    result, _ = paced(off_since=None if rested is None else NOW - rested)
    assert result[COLUMN] == (held(False, "rest", minutes=minutes) if minutes else Paced(True, WHY))


def test_on_and_off_have_times_of_their_own():
    """A heater's own minimum times, each for its own."""
    toml = study(heater='min_on = "10 min"\nmin_off = "2 min"')
    assert paced(toml=toml, on=False, told_on=True, on_since=NOW - 599.0)[0][COLUMN].on
    assert not paced(toml=toml, on=False, told_on=True, on_since=NOW - 600.0)[0][COLUMN].on
    assert not paced(toml=toml, off_since=NOW - 119.0)[0][COLUMN].on
    assert paced(toml=toml, off_since=NOW - 120.0)[0][COLUMN].on


def test_what_is_as_it_should_be_is_left():
    """ON that stays ON and OFF that stays OFF are not held."""
    assert paced(told_on=True, on_since=NOW, off_since=NOW)[0][COLUMN] == Paced(True, WHY)
    assert paced(on=False, off_since=NOW)[0][COLUMN] == Paced(False, WHY)


@pytest.mark.parametrize("code", ["no-air", "demand-failed"])
def test_nothing_holds_an_on_that_nothing_proves(code):
    """No air, or a law that failed: off at once."""
    why = Reason(code, "None.")
    assert paced(on=False, why=why, told_on=True, on_since=NOW)[0][COLUMN] == Paced(False, why)


@pytest.mark.parametrize("on", [True, False])
def test_a_press_is_not_paced(on):
    """The contact has moved already."""
    hand = HandMemory(on, NOW + 60.0, 0.0)
    result, _ = paced(on=on, hand=hand, told_on=not on, on_since=NOW, off_since=NOW)
    assert result[COLUMN] == Paced(on, WHY)


def test_a_spot_is_not_paced():
    """Someone sits in front of it."""
    house = study(more=SPOT)
    for on in (True, False):
        result, _ = paced(toml=house, on=on, second={"told_on": not on, "on_since": NOW, "off_since": NOW})
        assert result[PANEL] == Paced(on, WHY)


HUSHED = held(False, "quiet", switches=4, until="Tue 06:00")


@pytest.mark.parametrize(("used", "allowed"), [(0, True), (2, True), (3, False), (4, False)])
def test_an_on_at_night_needs_its_off_in_reserve(used, allowed):
    """Of four switchings two must be left."""
    result, _ = paced(toml=study(room=QUIET), wall=NIGHT, room={"quiet_window": TEN, "quiet_used": used})
    assert result[COLUMN] == (Paced(True, WHY) if allowed else HUSHED)


@pytest.mark.parametrize(("used", "allowed"), [(1, True), (2, False)])
def test_the_off_of_one_that_runs_is_in_reserve_too(used, allowed):
    """One running heater keeps one switching."""
    result, _ = paced(
        toml=TWO, wall=NIGHT, room={"quiet_window": TEN, "quiet_used": used}, second={"told_on": True}
    )
    assert result[COLUMN] == (Paced(True, WHY) if allowed else HUSHED)
    assert result[SECOND_KEY].on


@pytest.mark.parametrize(("used", "both"), [(0, True), (1, False)])
def test_one_that_starts_in_this_step_keeps_its_own_two(used, both):
    """Its ON and its OFF are spoken for before the second may start."""
    result, _ = paced(toml=TWO, wall=NIGHT, room={"quiet_window": TEN, "quiet_used": used})
    assert result[COLUMN].on
    assert result[SECOND_KEY].on is both
    result, _ = paced(toml=TWO, wall=NIGHT, room={"quiet_window": TEN, "quiet_used": 1}, told_on=True)
    assert result[SECOND_KEY].on, "one that runs on starts nothing"


def test_quiet_never_holds_an_on():
    """With no switching left, OFF is still told."""
    room = {"quiet_window": TEN, "quiet_used": 9}
    assert paced(on=False, toml=study(room=QUIET), wall=NIGHT, room=room, told_on=True)[0][COLUMN] == Paced(
        False, WHY
    )
    assert paced(on=True, toml=study(room=QUIET), wall=NIGHT, room=room, told_on=True)[0][COLUMN] == Paced(
        True, WHY
    )


@pytest.mark.parametrize(("air", "on"), [(11.9, True), (12.0, False), (Missing("away"), False)])
def test_a_cold_room_opens_the_quiet_hours(air, on):
    """Under 12°, and only where that is known."""
    room = {"quiet_window": TEN, "quiet_used": 4}
    assert paced(toml=study(room=QUIET), wall=NIGHT, room=room, air=air)[0][COLUMN].on is on


def test_a_cold_room_keeps_its_minimum_times():
    """Cold ends no rest."""
    assert paced(air=5.0, off_since=NOW - 10.0)[0][COLUMN].reason.code == "rest"


@pytest.mark.parametrize(
    ("window", "used"), [(None, 0), (TEN, 3), (TEN - 14400.0, 3), (TEN - 14401.0, 0), (TEN + 14401.0, 0)]
)
def test_each_night_counts_anew(window, used):
    """A window that began four hours off is another night."""
    _, memory = paced(toml=study(room=QUIET), wall=NIGHT, room={"quiet_window": window, "quiet_used": 3})
    kept = memory.rooms["study"]
    assert kept.quiet_used == used
    assert kept.quiet_window == (window if used else TEN)


def test_by_day_the_count_is_forgotten():
    """Outside quiet hours there is no window and nothing used."""
    _, memory = paced(toml=study(room=QUIET), room={"quiet_window": TEN, "quiet_used": 3})
    assert (memory.rooms["study"].quiet_window, memory.rooms["study"].quiet_used) == (None, 0)


@pytest.mark.parametrize(("wall", "used"), [(NIGHT, 4), (NOON, 0)])
def test_a_switching_is_counted_in_quiet_hours_alone(wall, used):
    """Each one, by one."""
    house = house_of(study(room=QUIET))
    memory = Memory(rooms={"study": RoomMemory(quiet_window=TEN, quiet_used=3)})
    note_switching(memory, house.rooms[0], now_at(wall=wall))
    assert memory.rooms["study"].quiet_used == used


def test_of_two_stretches_the_one_that_holds_is_meant():
    """The owner may name more than one."""
    two = 'quiet = [{ from = "13:00", to = "14:00", switches = 0 }, { from = "22:00", to = "06:00", switches = 4 }]'
    assert (
        paced(toml=study(room=two), wall=NIGHT, room={"quiet_window": TEN, "quiet_used": 4})[0][COLUMN]
        == HUSHED
    )


def test_quiet_hours_go_by_the_houses_own_clock():
    """An hour ahead of UTC in an Oslo winter: from 21:00 UTC on, and until its own 06:00."""
    toml, room = study(room=QUIET, zone="Europe/Oslo"), {"quiet_window": TEN - 3600.0, "quiet_used": 4}
    house = house_of(toml)
    for hour, held_back in ((20, False), (21, True)):
        memory = Memory(rooms={"study": RoomMemory(**room)}, heaters={COLUMN: HeaterMemory()})
        now = replace(now_at(wall=datetime(2026, 1, 12, hour, tzinfo=UTC)), zone=ZoneInfo("Europe/Oslo"))
        readings = Readings({"study": Reading(19.0, NOW)}, Missing("none"), ())
        result = pace(house, memory, Wants({}, {COLUMN: (True, WHY)}), readings, now)[COLUMN]
        assert result == (
            held(False, "quiet", switches=4, until="Tue 06:00") if held_back else Paced(True, WHY)
        )


def test_each_that_starts_in_this_step_keeps_its_own_two():
    """Of eight switchings with two used, three heaters may start and a fourth may not."""
    more = "".join(SECOND.format(name=name, watts=400) for name in ("b", "c", "d"))
    toml = study(room=QUIET.replace("switches = 4", "switches = 8"), more=more)
    result, _ = paced(toml=toml, wall=NIGHT, room={"quiet_window": TEN, "quiet_used": 2})
    assert [result[key].on for key in (COLUMN, "study/b", "study/c", "study/d")] == [True, True, True, False]


@pytest.mark.parametrize(
    ("used", "running", "wall", "may"),
    [(1, True, NIGHT, True), (2, True, NIGHT, False), (2, False, NIGHT, True), (9, True, None, True)],
)
def test_what_would_end_the_nights_heat_is_known_beforehand(used, running, wall, may):
    """Four switchings: one that runs keeps its OFF, and an ON after it needs its own. By day it may always."""
    house = house_of(study(room=QUIET))
    memory = Memory(
        rooms={"study": RoomMemory(quiet_window=TEN, quiet_used=used)}, heaters={COLUMN: HeaterMemory(told_on=running)}
    )
    now = now_at(wall=wall) if wall is not None else now_at()
    assert may_come_back(house.rooms[0], memory, now) is may


def test_quiet_hours_of_half_a_day_and_more_put_nothing_off():
    """Who asks for few switchings all day long is not to wait until evening for what has to be known."""
    house = house_of(study(room=QUIET.replace('from = "22:00"', 'from = "06:45"')))
    begun = datetime(2026, 1, 12, 6, 45, tzinfo=UTC)
    room = RoomMemory(quiet_window=begun.timestamp(), quiet_used=3)
    memory = Memory(rooms={"study": room}, heaters={COLUMN: HeaterMemory(told_on=True)})
    assert may_come_back(house.rooms[0], memory, now_at(wall=begun + timedelta(hours=1)))
    assert not may_come_back(house.rooms[0], memory, now_at(wall=begun + timedelta(hours=15)))
