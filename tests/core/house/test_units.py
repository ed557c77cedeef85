"""Amounts as owners write them."""

from datetime import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermostatd.core.house.units import (
    clock_of,
    day_of_year,
    days_of,
    seconds_of,
    written_days,
    written_duration,
)


@pytest.mark.parametrize(
    ("written", "seconds"),
    [("90 s", 90), ("10 min", 600), ("12 h", 43200), ("2 d", 172800), ("1.5h", 5400), (" 5 min ", 300)],
)
def test_a_duration_is_read(written, seconds):
    """A number and its unit make seconds."""
    assert seconds_of(written) == seconds


@pytest.mark.parametrize("written", ["10", "min", "0 s", "-5 min", "367 d", "5 m", "nan s", "1e3 s", "٣ min", "", 10])
def test_what_is_no_duration_is_refused_with_a_mend(written):
    """A duration without unit, at zero or past a year is refused, and the words say how to write one."""
    with pytest.raises(ValueError, match=r": write"):
        seconds_of(written)


@settings(deadline=None)
@given(st.floats(min_value=0.001, max_value=366 * 86400) | st.integers(1, 366 * 86400))
def test_a_written_duration_reads_back_as_itself(seconds):
    """Writing and reading a duration changes nothing."""
    assert seconds_of(written_duration(float(seconds))) == pytest.approx(seconds, rel=1e-12)


@pytest.mark.parametrize(
    ("seconds", "written"),
    [(10, "10 s"), (300, "5 min"), (1200, "20 min"), (3600, "1 h"), (5400, "90 min"), (86400, "24 h"), (0.5, "0.5 s")],
)
def test_a_duration_is_written_as_an_owner_would(seconds, written):
    """The largest unit that divides evenly is used, days aside."""
    assert written_duration(float(seconds)) == written


def test_a_time_of_day_is_read():
    """HH:MM is a time of day."""
    assert clock_of("07:30") == time(7, 30)


@pytest.mark.parametrize("written", ["7:30", "24:00", "07:60", "07:30:00", "07:30\n", "٠٧:30", 730, None])
def test_what_is_no_time_of_day_is_refused(written):
    """Anything but HH:MM is refused."""
    with pytest.raises(ValueError, match="is no time of day: write"):
        clock_of(written)


@pytest.mark.parametrize(
    ("written", "days"),
    [("daily", range(7)), ("mon-fri", range(5)), ("Sat, Sun", [5, 6]), ("fri-mon", [4, 5, 6, 0]), ("wed", [2])],
)
def test_days_are_read(written, days):
    """Names and spans of days are read, past the end of the week too."""
    assert days_of(written) == frozenset(days)


@pytest.mark.parametrize("written", ["", "weekly", "mon-", "-mon", "mon-fri-sun", "mon,,tue", 3])
def test_what_is_no_day_is_refused(written):
    """Anything else is refused."""
    with pytest.raises(ValueError, match="day"):
        days_of(written)


@settings(deadline=None)
@given(st.frozensets(st.integers(0, 6), min_size=1))
def test_written_days_read_back_as_themselves(days):
    """Writing and reading days changes nothing."""
    assert days_of(written_days(days)) == days


def test_every_day_of_every_year_is_taken_and_no_other():
    """365 days exist; 29 February is not one of every year."""
    taken = 0
    for month in range(14):
        for day in range(33):
            try:
                day_of_year(f"{month:02d}-{day:02d}")
                taken += 1
            except ValueError:
                pass
    assert taken == 365
