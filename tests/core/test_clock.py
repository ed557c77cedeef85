"""The two clocks, at the very edges of what is believed of them."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from thermostatd.core.clock import Now, believe, settle
from thermostatd.core.memory import ClockMemory
from thermostatd.core.values import Moment

ZONE = ZoneInfo("Europe/Oslo")
STEADY = 10_000.0
NOON = datetime(2026, 1, 12, 12, 0, tzinfo=UTC)
OFFSET = NOON.timestamp() - STEADY
KNOWN = {"offset": OFFSET, "last_steady": STEADY - 10.0, "last_wall": NOON.timestamp() - 10.0}
DOUBTED = KNOWN | {"doubted_since": STEADY - 7200.0, "frozen_wall": NOON.timestamp() - 7200.0}


def settled(off=0.0, *, stepping=True, wall=None, **kept):
    """A moment whose wall clock is off by so many seconds; and what is trusted after it."""
    memory = ClockMemory(**{**KNOWN, **kept})
    moment = Moment(wall or NOON + timedelta(seconds=off), STEADY)
    return settle(memory, moment, ZONE, stepping=stepping), memory


def test_a_clock_that_goes_on_is_followed():
    """Ten seconds on both clocks."""
    now, memory = settled()
    assert now == Now(STEADY, 10.0, NOON, NOON, None, ZONE, 0.0)
    assert memory == ClockMemory(offset=OFFSET, last_steady=STEADY, last_wall=NOON.timestamp())


def test_a_request_between_steps_counts_no_seconds():
    """Only a step does."""
    now, memory = settled(stepping=False)
    assert (now.seconds, memory.last_steady) == (10.0, STEADY - 10.0)
    assert settled(last_steady=None)[0].seconds == 0.0
    memory = ClockMemory(**KNOWN)
    settle(memory, Moment(NOON, STEADY), ZONE)
    assert memory.last_steady == STEADY, "a step, where nothing else is said"
    assert settled(last_steady=STEADY + 5.0)[0].seconds == 0.0


@pytest.mark.parametrize(("off", "doubted"), [(90.0, False), (90.1, True), (-90.0, False), (-90.1, True)])
def test_a_minute_and_a_half_is_no_jump(off, doubted):
    """The new offset is taken; past that it is doubted, and the week stands where it was."""
    now, memory = settled(off)
    assert (now.doubted, memory.doubted_since) == (doubted, STEADY if doubted else None)
    assert memory.offset == pytest.approx(OFFSET if doubted else OFFSET + off)
    assert now.jump_seconds == pytest.approx(off if doubted else 0.0)
    assert now.wall == (NOON if doubted else NOON + timedelta(seconds=off))
    assert now.best == now.wall
    assert memory.last_wall == pytest.approx(NOON.timestamp() - 10.0 if doubted else NOON.timestamp() + off)
    assert (memory.frozen_wall, memory.candidate, memory.candidate_since) == (
        (NOON.timestamp(), pytest.approx(OFFSET + off), STEADY) if doubted else (None, None, None)
    )


def test_while_doubted_the_week_stands_and_time_goes_on():
    """The frozen wall stays; the likeliest time is the old clock's."""
    now, memory = settled(7300.0, **DOUBTED)
    assert now.wall == NOON - timedelta(seconds=7200.0)
    assert now.best == NOON
    assert (now.doubted_since, memory.doubted_since) == (STEADY - 7200.0, STEADY - 7200.0)
    assert memory.last_wall == NOON.timestamp() - 10.0


@pytest.mark.parametrize(
    ("since", "past"), [(STEADY - 1799.0, False), (STEADY - 1800.0, True), (None, False)]
)
def test_a_last_target_is_held_for_half_an_hour(since, past):
    """To the second."""
    assert Now(STEADY, 1.0, NOON, NOON, since, ZONE).past_holding is past


@pytest.mark.parametrize(
    ("since", "candidate", "off", "believed"),
    [
        (7200.0, 4000.0, 4000.0, True),
        (7199.0, 4000.0, 4000.0, False),
        (7200.0, 4000.0, 4090.0, True),
        (7200.0, 4000.0, 4091.0, False),
        (7200.0, 4000.0, 3909.0, False),
        (7200.0, -26 * 3600.0 + 20.0, -26 * 3600.0 - 9.0, True),
        (7200.0, -26 * 3600.0, -26 * 3600.0 - 10.0, True),
        (7200.0, -26 * 3600.0 - 20.0, -26 * 3600.0 - 11.0, False),
        (None, 4000.0, 4000.0, False),
        (7200.0, None, 4000.0, False),
    ],
)
def test_a_new_time_that_went_evenly_for_two_hours_is_believed(since, candidate, off, believed):
    """Even within a minute and a half, and no more than 26 hours back."""
    now, memory = settled(
        off,
        **DOUBTED
        | {
            "candidate": None if candidate is None else OFFSET + candidate,
            "candidate_since": None if since is None else STEADY - since,
        },
    )
    assert now.doubted is not believed
    if believed:
        assert memory == ClockMemory(
            offset=pytest.approx(OFFSET + off),
            last_steady=STEADY,
            last_wall=pytest.approx(NOON.timestamp() + off),
        )


@pytest.mark.parametrize(
    ("off", "since"), [(4089.0, STEADY - 99.0), (3911.0, STEADY - 99.0), (4091.0, STEADY), (3909.0, STEADY)]
)
def test_an_uneven_clock_starts_its_two_hours_anew(off, since):
    """Each jump past the tolerance; a drift within it does not."""
    _, memory = settled(
        off,
        **DOUBTED | {"candidate": OFFSET + 4000.0, "candidate_since": STEADY - 99.0, "doubted_since": 5.0},
    )
    assert (memory.candidate_since, memory.candidate) == (since, pytest.approx(OFFSET + off))


@pytest.mark.parametrize(
    ("off", "until", "believed"),
    [
        (4000.0, STEADY + 1.0, True),
        (4000.0, STEADY, False),
        (-4000.0, STEADY + 1.0, False),
        (4000.0, None, False),
    ],
)
def test_just_awake_a_jump_forward_is_the_clock_being_set(off, until, believed):
    """Within the time after a start, and forward alone."""
    assert settled(off, settling_until=until)[0].doubted is not believed


def test_the_time_after_a_start_begins_with_the_first_step():
    """From now on, once."""
    _, memory = settled(settling_seconds=900.0)
    assert (memory.settling_until, memory.settling_seconds) == (STEADY + 900.0, None)
    assert settled(settling_until=5.0)[1].settling_until == 5.0


@pytest.mark.parametrize(
    ("last_wall", "believed"),
    [
        (None, True),
        (NOON.timestamp(), True),
        (NOON.timestamp() + 90.0, True),
        (NOON.timestamp() + 90.1, False),
    ],
)
def test_the_first_time_heard_is_believed_unless_it_lies_before_what_was_known(last_wall, believed):
    """A wall clock that went back over a power cut is doubted; time cannot go back."""
    now, memory = settled(offset=None, last_steady=None, last_wall=last_wall)
    assert now.doubted is not believed
    assert memory.offset == (OFFSET if believed else None)
    if not believed:
        assert memory.frozen_wall == last_wall
        assert now.jump_seconds == pytest.approx(NOON.timestamp() - last_wall)
        assert now.best.timestamp() == pytest.approx(last_wall)


def test_a_first_time_that_lies_back_is_believed_after_two_even_hours():
    """As any other."""
    even = {"candidate": OFFSET, "candidate_since": STEADY - 7200.0, "doubted_since": 5.0, "frozen_wall": 5.0}
    assert not settled(offset=None, last_wall=NOON.timestamp() + 5000.0, **even)[0].doubted


@pytest.mark.parametrize(
    ("wall", "believed"),
    [(datetime(2024, 1, 1, tzinfo=UTC), True), (datetime(2023, 12, 31, 23, 59, 59, tzinfo=UTC), False)],
)
def test_a_time_before_this_program_was_made_is_never_believed(wall, believed):
    """1970 is a clock without a battery."""
    now, memory = settled(wall=wall, offset=None, last_steady=None, last_wall=None)
    assert now.doubted is not believed
    if not believed:
        assert now.best == datetime(2024, 1, 1, tzinfo=UTC)
        assert memory.frozen_wall == datetime(2024, 1, 1, tzinfo=UTC).timestamp()


def test_the_owners_word_takes_the_clock_as_it_stands():
    """Once there is one to take."""
    memory = ClockMemory(**DOUBTED, candidate=OFFSET + 4000.0, candidate_since=5.0)
    assert believe(memory, STEADY)
    assert memory == ClockMemory(
        offset=OFFSET + 4000.0, last_wall=NOON.timestamp() + 4000.0, last_steady=STEADY - 10.0
    )
    for change in ({"doubted_since": None}, {"candidate": None}):
        memory = ClockMemory(**{**DOUBTED, "candidate": OFFSET + 4000.0, **change})
        before = ClockMemory(**{**DOUBTED, "candidate": OFFSET + 4000.0, **change})
        assert not believe(memory, STEADY)
        assert memory == before


@pytest.mark.parametrize(("late", "taken"), [(0.0, True), (-1.0, False)])
def test_an_absurd_clock_is_not_taken_on_any_word(late, taken):
    """2024 is the earliest."""
    early = datetime(2024, 1, 1, tzinfo=UTC).timestamp()
    assert believe(ClockMemory(**DOUBTED, candidate=early - STEADY + late), STEADY) is taken


def test_a_wall_time_is_said_as_the_house_reads_it():
    """In its zone; with the day where that is another."""
    now = Now(STEADY, 1.0, NOON, NOON, None, ZONE)
    assert now.text(NOON + timedelta(hours=2)) == "15:00"
    assert now.text(NOON + timedelta(hours=12)) == "Tue 01:00"
    assert now.text(NOON.timestamp()) == "13:00"
    assert now.text(NOON.timestamp()).wall == NOON.timestamp()
    assert now.text(NOON).wall == NOON.timestamp()
    assert now.wall_in(90.0) == NOON + timedelta(seconds=90)
    late = NOON + timedelta(hours=11, minutes=30)  # past midnight in Oslo
    assert Now(STEADY, 1.0, late, late, None, ZONE).text(late + timedelta(hours=1)) == "01:30"
