"""Amounts as owners write them."""

import re
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.core.house import House
from thermostatd.core.house.units import (
    clock_of,
    day_of_year,
    days_of,
    seconds_of,
    spelled,
    text_schema,
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


NO_DURATION = 'is no duration: write a number and its unit, such as "90 s", "10 min" or "12 h"'
NO_USE = "is no usable duration: write one over zero and at most 366 d"
NO_TIME = 'is no time of day: write "HH:MM" in quotes, 00:00 to 23:59, such as "07:30"'
NO_DAY = 'names no day of the week: write "daily", "mon-fri" or "sat,sun"'
NO_DATE = 'is no day of the year: write "MM-DD", such as "10-15"'
NO_EVERY = 'is no day of every year: write "MM-DD", such as "10-15"'


@pytest.mark.parametrize(
    ("read", "written", "words"),
    [
        (seconds_of, "soon", NO_DURATION), (seconds_of, 5, NO_DURATION), (seconds_of, "0 s", NO_USE),
        (seconds_of, "366.1 d", NO_USE), (clock_of, "7", NO_TIME), (clock_of, 7, NO_TIME), (days_of, 3, NO_DAY),
        (days_of, "mon-", NO_DAY), (days_of, "x-fri", NO_DAY), (days_of, "fri-x", NO_DAY),
        (day_of_year, "1015", NO_DATE), (day_of_year, 5, NO_DATE), (day_of_year, "00-10", NO_EVERY),
        (day_of_year, "13-10", NO_EVERY),
        (day_of_year, "10-00", NO_EVERY), (day_of_year, "02-29", NO_EVERY), (day_of_year, "04-31", NO_EVERY),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_in_these_words(read, written, words):
    """What is wrong, and how to write it."""
    with pytest.raises(ValueError, match="^" + re.escape(words) + "$"):
        read(written)


@pytest.mark.parametrize(
    ("read", "written", "value"),
    [
        (seconds_of, "366 d", 366 * 86400.0), (seconds_of, "0.5 s", 0.5), (seconds_of, "1 s", 1.0),
        (day_of_year, "01-01", (1, 1)), (day_of_year, "12-31", (12, 31)), (day_of_year, "02-28", (2, 28)),
        (day_of_year, "11-30", (11, 30)), (day_of_year, "10-31", (10, 31)), (day_of_year, "03-31", (3, 31)),
        (day_of_year, "05-31", (5, 31)), (day_of_year, "06-30", (6, 30)), (day_of_year, "07-31", (7, 31)),
        (day_of_year, "08-31", (8, 31)), (day_of_year, "09-30", (9, 30)), (day_of_year, "04-30", (4, 30)),
        (day_of_year, "01-31", (1, 31)), (days_of, "sun-mon", {6, 0}), (days_of, "mon-mon", {0}),
        (days_of, "tue - thu, sun", {1, 2, 3, 6}), (days_of, "DAILY", set(range(7))), (clock_of, "23:59", time(23, 59)),
    ],
)  # fmt: skip
def test_the_last_that_can_be_read(read, written, value):
    """Each bound is taken; spaces and capitals do not matter."""
    assert read(written) == value


@pytest.mark.parametrize(
    "written", ["11-31", "06-31", "09-31", "01-32", "12-32", "07-32", "08-32", "10-32", "03-32", "05-32"]
)
def test_a_day_past_its_month_is_refused(written):
    """Each month has its own length."""
    with pytest.raises(ValueError, match="every year"):
        day_of_year(written)


@pytest.mark.parametrize(
    ("days", "written"),
    [({0, 1, 2}, "mon-wed"), ({0, 1}, "mon,tue"), ({0, 2}, "mon,wed"), ({4, 5, 6, 0}, "mon,fri-sun"), ({3}, "thu")],
)
def test_days_are_written_as_an_owner_would(days, written):
    """Three that follow each other, or more, make a span."""
    assert written_days(frozenset(days)) == written


def test_a_text_is_held_against_its_pattern_and_length():
    """In the words that were given; the whole of it."""
    check = spelled("a+", 3, "is odd: mend it")
    assert check("aaa") == "aaa"
    for text in ("aaaa", "ab", "", "aab"):
        with pytest.raises(ValueError, match=r"^is odd: mend it$"):
            check(text)
    assert text_schema("a+", 3).json_schema == {"type": "string", "pattern": "a+", "maxLength": 3}


def test_amounts_are_written_in_json_as_in_the_file():
    """Times, days of the year, durations."""
    house = House.model_validate(
        {"house": {"asleep": {"from": "06:05", "to": "23:00"}, "season": {"from": "02-03", "to": "12-24"}}}
    )
    table = house.model_dump(mode="json", by_alias=True)["house"]
    assert table["asleep"] == {"from": "06:05", "to": "23:00"}
    assert table["season"] == {"from": "02-03", "to": "12-24"}
    assert table["tick"] == "10 s"
