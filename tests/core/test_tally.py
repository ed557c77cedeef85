"""What is counted from step to step: a room's loss of late, the cold, and a season's pace, bound by bound."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, SECOND, house_of, study
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.tally import RoomTally, SeasonTally, loss_watts_per_kelvin, tally
from thermostatd.core.values import Missing, Reading

DAY = 86400.0


def counted(kept=None, *, air=20.0, outdoor=0.0, seconds=60.0, watts=600.0, **memory):
    """The study's tally after one step."""
    house = house_of(study())
    room = RoomMemory(tally=kept or RoomTally())
    found = Memory(
        rooms={"study": room}, heaters={COLUMN: HeaterMemory(body=BodyMemory(watts=watts))},
        season=SeasonTally(0.0, 9e9), **memory,
    )  # fmt: skip
    readings = Readings({"study": told(air)}, told(outdoor), ())
    tally(house, found, readings, now_at(seconds=seconds))
    return room.tally


def told(value):
    """A reading, or none."""
    return Missing("silent") if value is None else Reading(value)


@pytest.mark.parametrize(
    ("seconds", "counts"), [(60.0, 60.0), (120.0, 120.0), (500.0, 120.0), (0.0, 0.0), (1.0, 1.0)]
)
def test_a_step_counts_for_two_minutes_at_most(seconds, counts):
    """And for the first day it only counts the time: walls warm up first."""
    found = counted(seconds=seconds)
    assert (found.seconds, found.watts, found.kelvins) == (counts, 0.0, 0.0)
    assert found.coldest == (0.0 if counts else None)


@pytest.mark.parametrize(("air", "outdoor"), [(None, 0.0), (20.0, None)])
def test_without_air_or_outdoors_nothing_is_counted(air, outdoor):
    """Neither the time."""
    assert counted(air=air, outdoor=outdoor) == RoomTally()


@pytest.mark.parametrize(
    ("before", "watts", "kelvins"),
    [(DAY - 60.0, 0.0, 0.0), (DAY, 600.0, 20.0), (DAY + 60.0, 350.0, 15.0), (4 * DAY, 100.173611, 10.003472)],
)
def test_after_a_day_it_is_a_mean_that_forgets_in_two(before, watts, kelvins):
    """Even at first; then 60 s in two days (derived)."""
    kept = RoomTally(before, 100.0 if before > DAY else 0.0, 10.0 if before > DAY else 0.0, 0.0)
    found = counted(kept)
    assert (found.watts, found.kelvins) == (pytest.approx(watts, abs=1e-6), pytest.approx(kelvins, abs=1e-6))
    assert (found.watts, found.kelvins) == (round(found.watts, 7), round(found.kelvins, 7))


def test_all_of_a_rooms_heaters_count_and_each_room_by_itself():
    """A room that is silent leaves the next."""
    more = SECOND.format(name="second", watts=400) + '[[room]]\nname = "den"\nsensor = { topic = "d" }'
    house = house_of(study(more=more))
    memory = Memory(
        rooms={name: RoomMemory(tally=RoomTally(DAY)) for name in ("study", "den")},
        heaters={key: HeaterMemory(body=BodyMemory(watts=250.0)) for key, _, _ in house.heaters()},
        season=SeasonTally(0.0, 9e9),
    )
    readings = Readings({"study": Missing(""), "den": Reading(10.0)}, Reading(0.0), ())
    tally(house, memory, readings, now_at(seconds=60.0))
    assert (memory.rooms["study"].tally.seconds, memory.rooms["den"].tally.kelvins) == (DAY, 10.0)
    readings = Readings({"study": Reading(20.0), "den": Missing("")}, Reading(0.0), ())
    tally(house, memory, readings, now_at(seconds=60.0))
    assert memory.rooms["study"].tally.watts == 500.0


def test_the_mean_is_of_kelvins_over_outdoors():
    """20° in the room and five under zero outside are 25; a room whose walls still warm up leaves the next."""
    assert counted(RoomTally(DAY), outdoor=-5.0).kelvins == 25.0
    house = house_of(study(more='[[room]]\nname = "den"\nsensor = { topic = "d" }'))
    memory = Memory(
        rooms={"study": RoomMemory(), "den": RoomMemory(tally=RoomTally(DAY))},
        heaters={COLUMN: HeaterMemory()}, season=SeasonTally(0.0, 9e9),
    )  # fmt: skip
    readings = Readings({"study": Reading(20.0), "den": Reading(10.0)}, Reading(-5.0), ())
    tally(house, memory, readings, now_at(seconds=60.0))
    assert memory.rooms["den"].tally.kelvins == 15.0


@pytest.mark.parametrize(
    ("coldest", "outdoor", "after"),
    [(None, 3.0, 3.0), (-5.0, 3.0, -5.0 + 60.0 / DAY), (-5.0, -6.0, -6.0), (2.99, 3.0, 2.99 + 60.0 / DAY)],
)
def test_the_coldest_of_late_fades_by_a_kelvin_a_day(coldest, outdoor, after):
    """A colder day takes its place at once."""
    assert counted(RoomTally(coldest=coldest), outdoor=outdoor).coldest == pytest.approx(after, abs=1e-9)


@pytest.mark.parametrize(
    ("kept", "loss"),
    [
        (RoomTally(2 * DAY, 600.0, 20.0), 30.0), (RoomTally(2 * DAY - 1.0, 600.0, 20.0), None),
        (RoomTally(2 * DAY, 600.0, 4.9), None), (RoomTally(2 * DAY, 600.0, 5.0), 120.0),
        (RoomTally(2 * DAY, 39.9, 20.0), None), (RoomTally(2 * DAY, 40.0, 20.0), 2.0),
    ],
)  # fmt: skip
def test_a_loss_is_said_after_two_days_of_cold_and_heat(kept, loss):
    """5 K over outdoors and 40 W at least."""
    assert loss_watts_per_kelvin(kept) == loss


def season(wall=NOON, until=0.0, more="", doubted=None, zone="UTC"):
    """The season after a step at some time."""
    house = house_of(study(house=more, zone=zone))
    kept = HeaterMemory(operations=7, on_seconds=12.6, facts=HeaterFacts(trip_count=3))
    memory = Memory(
        rooms={"study": RoomMemory()},
        heaters={COLUMN: kept},
        season=SeasonTally(5.0, until, {"x": (1, 2.0, 3)}),
    )
    now = replace(now_at(wall=wall, doubted=doubted), zone=ZoneInfo(zone))
    tally(house, memory, Readings({"study": Missing("")}, Missing(""), ()), now)
    return memory.season


@pytest.mark.parametrize(
    ("wall", "more", "until"),
    [
        (NOON, "", datetime(2026, 7, 1, tzinfo=UTC)),
        (datetime(2026, 7, 1, tzinfo=UTC), "", datetime(2027, 7, 1, tzinfo=UTC)),
        (datetime(2026, 6, 30, 23, 59, tzinfo=UTC), "", datetime(2026, 7, 1, tzinfo=UTC)),
        (NOON, 'season = { from = "09-15", to = "05-01" }', datetime(2026, 9, 15, tzinfo=UTC)),
        (NOON, 'season = { from = "01-10", to = "05-01" }', datetime(2027, 1, 10, tzinfo=UTC)),
    ],
)
def test_a_season_begins_in_july_or_with_the_house_files_own(wall, more, until):
    """Counted from what each heater had done by then."""
    found = season(wall, more=more)
    assert found == SeasonTally(wall.timestamp(), until.timestamp(), {COLUMN: (7, 13.0, 3)})


def test_a_season_goes_by_the_houses_own_midnight():
    """Oslo's July begins two hours before that of UTC."""
    assert season(zone="Europe/Oslo").until_wall == datetime(2026, 6, 30, 22, tzinfo=UTC).timestamp()
    late = datetime(2026, 6, 30, 22, 30, tzinfo=UTC)
    assert season(late, zone="Europe/Oslo").until_wall == datetime(2027, 6, 30, 22, tzinfo=UTC).timestamp()


def test_a_season_that_runs_goes_on():
    """To its second; and a doubted clock begins none."""
    assert season(until=NOON.timestamp() + 1.0).since_wall == 5.0
    assert season(until=NOON.timestamp()).since_wall == NOON.timestamp()
    assert season(doubted=NOW - 9.0).since_wall == 5.0
    assert season(NOON + timedelta(days=1)).since_wall == NOON.timestamp() + DAY
