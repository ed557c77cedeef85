"""A start after which only the wall clock tells for how long it was down, at its very bounds. All invented."""

import pytest

from thermostatd.core import leap
from thermostatd.core.memory import ClockMemory, Memory, RequestMemory

DAYS = 26 * 3600.0
WALL, STEADY = 1.7e9, 9000.0


def woken(gap, *, by_wall=True, known=True, before=None, until=WALL + 60.0):
    """The clock after a start, and when a wish that waits then begins and ends."""
    wish = RequestMemory("Ana", "page", WALL, STEADY + 60.0, until, begins=STEADY + 5.0)
    memory = Memory(out=wish)
    leap.woken(memory, before or ClockMemory(last_wall=WALL, last_steady=STEADY), gap, by_wall=by_wall, known=known)
    return memory.clock, (wish.begins - STEADY, wish.ends - STEADY)


@pytest.mark.parametrize(
    ("how", "pending", "later"),
    [
        ({"gap": DAYS}, False, 0.0),
        ({"gap": DAYS + 1.0}, True, DAYS + 1.0),
        ({"gap": DAYS + 1.0, "by_wall": False}, False, 0.0),
        ({"gap": DAYS + 1.0, "before": ClockMemory()}, False, 0.0),
        ({"gap": 0.0, "known": False}, True, 0.0),
        ({"gap": DAYS, "known": False}, True, 0.0),
        ({"gap": DAYS + 1.0, "until": None}, True, 0.0),
    ],
)
def test_over_a_day_down_by_the_wall_alone_is_not_believed_yet(how, pending, later):
    """Wishes with an end by the clock wait for so much longer, in whole; the time last trusted is kept."""
    clock, (begins, ends) = woken(**how)
    assert (clock.pending, begins, ends) == (pending, 5.0 + later, 60.0 + later)
    assert (clock.floor_wall, clock.floor_steady) == ((WALL, STEADY) if pending else (None, None))
    assert clock.gap == (how["gap"] if pending and how["gap"] > DAYS else 0.0)


def test_a_second_start_meanwhile_adds_to_the_first():
    """What was trusted before the first holds on, and so does what is yet to be proven."""
    before = ClockMemory(
        last_wall=WALL + 9e6, last_steady=STEADY + 9e6, pending=True, gap=5.0, floor_wall=WALL, floor_steady=STEADY,
        proven_at=77.0,
    )  # fmt: skip
    clock, _ = woken(DAYS + 1.0, before=before)
    assert (clock.floor_wall, clock.floor_steady, clock.gap, clock.proven_at) == (WALL, STEADY, DAYS + 6.0, 77.0)
    kept, _ = woken(1.0, by_wall=False, before=before)
    assert (kept.pending, kept.gap, kept.floor_wall, kept.floor_steady) == (True, 5.0, WALL, STEADY)
    assert kept.proven_at == 77.0


def test_how_far_back_the_clock_may_be_set():
    """To when it was last trusted, less a tolerance; only where it leapt."""
    clock = ClockMemory(last_wall=WALL + 5.0)
    assert (leap.earliest(clock), leap.may_be_set_to(clock, WALL + 9.0, 3.0)) == (WALL + 5.0, False)
    clock.floor_wall = WALL
    assert leap.earliest(clock) == WALL
    assert leap.may_be_set_to(clock, WALL - 3.0, 3.0)
    assert not leap.may_be_set_to(clock, WALL - 3.1, 3.0)


@pytest.mark.parametrize(
    ("offset", "ahead", "floor", "kept"),
    [
        (WALL, DAYS, None, (None, None, None)),
        (WALL, DAYS + 1.0, None, (WALL + STEADY, STEADY, STEADY + 7 * 86400.0)),
        (None, DAYS + 1.0, None, (None, None, None)),
        (WALL, DAYS + 1.0, 5.0, (5.0, None, None)),
    ],
)
def test_a_leap_while_it_runs_has_to_hold_for_a_week(offset, ahead, floor, kept):
    """Over 26 hours ahead; what leapt already is not taken for what was trusted."""
    clock = ClockMemory(offset=offset, floor_wall=floor)
    leap.leapt(clock, STEADY, WALL + ahead)
    assert (clock.floor_wall, clock.floor_steady, clock.proven_at) == kept


PENDING = {
    "pending": True, "gap": DAYS + 5.0, "offset": WALL, "floor_wall": WALL + STEADY, "floor_steady": STEADY,
    "settling_until": STEADY + 900.0,
}  # fmt: skip


def resolved(*, steady=STEADY + 900.0, now=False, **change):
    """The clock, and by how much wishes end earlier."""
    clock = ClockMemory(**PENDING | change)
    return clock, leap.resolved(clock, steady, now=now)


def test_it_is_plain_once_the_clock_was_set_or_a_quarter_of_an_hour_has_gone():
    """Not a second sooner, and not while the clock is doubted."""
    assert resolved()[1] == DAYS + 5.0
    assert resolved(steady=STEADY + 899.9)[1] == 0.0
    assert resolved(steady=STEADY, now=True)[1] == DAYS + 5.0
    for held in ({"doubted_since": 5.0}, {"offset": None}, {"pending": False}, {"settling_until": None}):
        clock, down = resolved(**held)
        assert (down, clock.gap, clock.floor_wall) == (0.0, DAYS + 5.0, WALL + STEADY)


def test_what_it_was_set_to_says_for_how_long_it_was_down():
    """Set back by all of the gap it was not down at all, nor for less than that; what is short is proven at once."""
    clock, down = resolved(offset=WALL - DAYS)
    assert (down, clock.pending, clock.gap) == (5.0, False, 0.0)
    assert (clock.floor_wall, clock.floor_steady, clock.proven_at) == (None, None, None)
    assert resolved(offset=WALL - DAYS - 5.1)[1] == 0.0
    assert resolved(floor_steady=None, offset=WALL - DAYS)[1] == DAYS + 5.0
    assert resolved(floor_wall=None, offset=WALL - DAYS)[1] == DAYS + 5.0
    clock, _ = resolved(gap=DAYS, proven_at=STEADY + 1e9)
    assert (clock.floor_wall, clock.proven_at) == (None, None)
    clock, _ = resolved(gap=DAYS + 0.5)
    assert (clock.floor_wall, clock.floor_steady) == (WALL + STEADY, STEADY)
    assert clock.proven_at == STEADY + 900.0 + 7 * 86400.0
    assert not leap.is_proven(clock)


def test_after_a_week_it_is_proven():
    """To the second; from then on what is old may go, where the clock is trusted."""
    held = {"pending": False, "proven_at": STEADY}
    clock, _ = resolved(steady=STEADY - 0.1, **held)
    assert (clock.floor_wall, leap.is_proven(clock)) == (WALL + STEADY, False)
    clock, _ = resolved(steady=STEADY, **held)
    assert (clock.floor_wall, clock.floor_steady, clock.proven_at, leap.is_proven(clock)) == (None, None, None, True)
    clock.doubted_since = 1.0
    assert not leap.is_proven(clock)
    assert not leap.is_proven(ClockMemory())
