"""The usual week on the house's wall clock, and stretches of the day, at their very edges."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.stories.teller import house_of, study
from thermostatd.core.memory import WeekMemory
from thermostatd.core.usual_week import fault_in, steps_of, usual_step, week_memory
from thermostatd.core.week import Week, in_season, instant, next_clock, window_start

OSLO, UTC_ZONE = ZoneInfo("Europe/Oslo"), ZoneInfo("UTC")
NOON = datetime(2026, 1, 12, 12, 0, tzinfo=UTC)  # a Monday
MORNING, NIGHT = usual_step(range(7), 420, 20.0), usual_step(range(7), 1320, 16.0)


def at(*when):
    """Unix seconds of a UTC time."""
    return datetime(*when, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("day", "clock", "expected"),
    [
        (date(2026, 1, 12), time(7), at(2026, 1, 12, 6)),
        (date(2026, 7, 12), time(7), at(2026, 7, 12, 5)),
        (date(2026, 3, 29), time(2, 30), at(2026, 3, 29, 1)),
        (date(2026, 3, 29), time(2, 0), at(2026, 3, 29, 1)),
        (date(2026, 3, 29), time(3, 0), at(2026, 3, 29, 1)),
        (date(2026, 10, 25), time(2, 30), at(2026, 10, 25, 0, 30)),
    ],
)
def test_a_time_that_is_skipped_comes_when_the_clocks_go_forward_and_a_repeated_one_first(
    day, clock, expected
):
    """Oslo's odd nights of 2026 (IANA time zone data)."""
    assert instant(day, clock, OSLO) == expected


@pytest.mark.parametrize(
    ("hour", "minute", "now", "then", "following"),
    [
        (12, 0, 20.0, (22, 0), 16.0),
        (22, 0, 16.0, (31, 0), 20.0),
        (21, 59, 20.0, (22, 0), 16.0),
        (7, 0, 20.0, (22, 0), 16.0),
        (6, 59, 16.0, (7, 0), 20.0),
    ],
)
def test_a_step_holds_from_its_minute_to_the_next(hour, minute, now, then, following):
    """To the second, over midnight."""
    week = Week((MORNING, NIGHT), UTC_ZONE)
    midnight = datetime(2026, 1, 12, tzinfo=UTC)
    found = week.at(midnight + timedelta(hours=hour, minutes=minute))
    assert found == (now, (midnight + timedelta(hours=then[0])).timestamp(), following)


def test_a_week_is_read_by_its_own_clock():
    """Ten in the evening in Oslo is nine elsewhere; and its day begins an hour sooner."""
    week = Week((MORNING, usual_step([0], 1320, 16.0)), OSLO)
    assert week.at(NOON)[1] == (NOON + timedelta(hours=9)).timestamp()
    assert (
        Week((usual_step([0], 30, 20.0),), OSLO).at(NOON)[1]
        == (NOON + timedelta(days=6, hours=11.5)).timestamp()
    )


def test_a_week_of_one_day_reaches_over_a_week():
    """What was a week ago still holds, and the next is a week ahead."""
    week = Week((usual_step([0], 720, 20.0),), UTC_ZONE)
    assert week.at(NOON - timedelta(seconds=1)) == (20.0, NOON.timestamp(), 20.0)
    assert week.at(NOON) == (20.0, (NOON + timedelta(days=7)).timestamp(), 20.0)


def test_two_steps_at_one_time_take_the_later_written():
    """The last word holds."""
    week = Week((usual_step([0], 720, 20.0), usual_step(range(7), 720, 18.0)), UTC_ZONE)
    assert week.at(NOON)[0] == 18.0


def test_a_week_without_steps_wants_nothing():
    """Neither now nor later."""
    assert Week((), UTC_ZONE).at(NOON) == (None, None, None)
    assert Week((), UTC_ZONE).ahead(NOON) == []


@pytest.mark.parametrize(("days", "count"), [(1, 2), (2, 4), (7, 14), (30, 14)])
def test_the_coming_steps_are_told_for_a_week_at_most(days, count):
    """In their order, not the one that holds now."""
    week = Week((MORNING, NIGHT), UTC_ZONE)
    steps = week.ahead(NOON, days)
    assert len(steps) == count
    assert steps[:2] == [
        ((NOON + timedelta(hours=10)).timestamp(), 16.0),
        ((NOON + timedelta(hours=19)).timestamp(), 20.0),
    ]
    assert len(week.ahead(NOON)) == 4
    ten = NOON + timedelta(hours=10)
    assert week.ahead(ten, 1)[0][1] == 20.0
    assert len(week.ahead(ten - timedelta(seconds=1), 1)) == 2
    assert week.ahead(ten, 1)[-1] == ((ten + timedelta(days=1)).timestamp(), 16.0)


def test_a_week_goes_on_from_day_to_day():
    """Asked each half day for three weeks, forward and back."""
    week = Week((MORNING, NIGHT), OSLO)
    for half in (*range(42), *range(42, 0, -1)):
        when = NOON + timedelta(hours=12 * half)
        assert week.at(when)[0] == (20.0 if half % 2 == 0 else 16.0)
        assert week.at(when)[1] > when.timestamp()


@pytest.mark.parametrize(
    ("begins", "ends", "wall", "start"),
    [
        (time(22), time(6), datetime(2026, 1, 12, 22, 0, tzinfo=UTC), at(2026, 1, 12, 22)),
        (time(22), time(6), datetime(2026, 1, 12, 21, 59, 59, tzinfo=UTC), None),
        (time(22), time(6), datetime(2026, 1, 13, 5, 59, 59, tzinfo=UTC), at(2026, 1, 12, 22)),
        (time(22), time(6), datetime(2026, 1, 13, 6, 0, tzinfo=UTC), None),
        (time(13), time(14), datetime(2026, 1, 12, 13, 30, tzinfo=UTC), at(2026, 1, 12, 13)),
        (time(13), time(14), datetime(2026, 1, 12, 14, 0, tzinfo=UTC), None),
        (time(13), time(13), datetime(2026, 1, 12, 14, 0, tzinfo=UTC), at(2026, 1, 12, 13)),
    ],
)
def test_a_stretch_holds_from_its_first_second_to_its_last(begins, ends, wall, start):
    """Over midnight too; one that ends as it begins is a whole day."""
    assert window_start(wall, begins, ends, UTC_ZONE) == start


@pytest.mark.parametrize(("clock", "hours"), [(time(12), 24), (time(12, 30), 0.5), (time(11), 23)])
def test_the_next_time_a_clock_shows_it(clock, hours):
    """Never now."""
    assert next_clock(NOON, clock, UTC_ZONE) == NOON + timedelta(hours=hours)


def test_a_clock_east_of_here_is_a_day_ahead():
    """By the house's own date."""
    east = ZoneInfo("Pacific/Auckland")  # 13 hours ahead in January
    assert next_clock(NOON, time(1, 30), east) == NOON + timedelta(minutes=30)
    assert next_clock(NOON, time(0, 30), east) == NOON + timedelta(hours=23, minutes=30)


def test_a_clock_west_of_here_is_a_day_behind():
    """At five o'clock it is seven in the evening before, there."""
    west, five = ZoneInfo("Pacific/Honolulu"), NOON - timedelta(hours=7)  # 10 hours behind
    assert next_clock(five, time(20, 0), west) == five + timedelta(hours=1)


@pytest.mark.parametrize(
    ("begins", "ends", "day", "holds"),
    [
        ((1, 12), (1, 12), NOON, True),
        ((1, 13), (5, 1), NOON, False),
        ((1, 13), (1, 13), NOON, False),
        ((10, 1), (1, 11), NOON, False),
        ((10, 1), (1, 12), NOON, True),
        ((1, 12), (1, 2), NOON, True),
        ((1, 1), (1, 11), NOON, False),
        ((1, 1), (12, 31), NOON, True),
    ],
)
def test_a_season_holds_both_its_ends_and_may_pass_new_year(begins, ends, day, holds):
    """By the house's date."""
    assert in_season(day, begins, ends, UTC_ZONE) is holds
    assert in_season(day.replace(hour=23, minute=30) - timedelta(days=1), begins, ends, OSLO) is holds


ROOM = house_of(study(room="household = { lowest = 15, highest = 22 }")).rooms[0]


def test_a_week_that_was_put_over_the_files_comes_back():
    """Days as bits, minutes of the day, degrees."""
    steps = (usual_step([0, 4], 435, 21.5), usual_step(range(7), 1320, 15.0))
    kept = week_memory(steps, "Ana", 5.0)
    assert kept == WeekMemory([[17.0, 435.0, 21.5], [127.0, 1320.0, 15.0]], "Ana", 5.0)
    assert steps_of(ROOM, kept) == steps
    assert steps_of(ROOM, None) == ROOM.usual


@pytest.mark.parametrize(
    ("celsius", "within"), [(14.0, 15.0), (23.0, 22.0), (22.0, 22.0), (15.0, 15.0), (20.0, 20.0)]
)
def test_narrower_limits_pull_a_kept_week_inside_them(celsius, within):
    """Whatever was allowed when it was put there."""
    assert steps_of(ROOM, WeekMemory([[1.0, 60.0, celsius]], "Ana", 5.0))[0].celsius == within


def test_what_the_file_itself_uses_is_allowed():
    """A file's own night may lie under what the household may ask."""
    room = house_of(study(room="household = { lowest = 21, highest = 22 }")).rooms[0]
    assert steps_of(room, WeekMemory([[1.0, 60.0, 20.0]], "Ana", 5.0))[0].celsius == 20.0
    assert fault_in(room, [usual_step([0], 60, 20.0)]) is None


@pytest.mark.parametrize(
    ("steps", "fault"),
    [
        ([usual_step([0], n, 20.0) for n in range(56)], None),
        ([usual_step([0], n, 20.0) for n in range(57)], ("week-too-long", {"limit": 56.0})),
        ([usual_step([0], 60, 22.1)], ("too-warm", {"limit": 22.0})),
        ([usual_step([0], 60, 14.9)], ("too-cold", {"limit": 15.0})),
        ([usual_step([0], 60, 22.0), usual_step([1], 60, 15.0)], None),
        ([usual_step([0, 1], 65, 20.0), usual_step([1], 65, 21.0)], ("week-step", {"at": "01:05"})),
    ],
)
def test_a_week_that_cannot_be_says_why(steps, fault):
    """Too long, outside the limits, or twice at one time."""
    assert fault_in(ROOM, steps) == fault
