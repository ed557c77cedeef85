"""The forecast of the outdoor air: what is taken in, what is kept, and how long it serves."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.core.guard.cases import NOW, now_at
from tests.stories.teller import COLUMN, house_of, study
from thermostatd.core.forecast import LONGEST_SECONDS
from thermostatd.core.house import ForecastSource
from thermostatd.core.memory import ForecastMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import read
from thermostatd.core.remembering import awaken, from_plain, to_plain
from thermostatd.core.values import Forecast, Observation

FRONT = (4.0, 2.0, -6.0)
HOUR = 3600.0


def house(forecast=True):
    """A house of one room that has a forecast, or none."""
    plain = house_of(study())
    source = ForecastSource(topic="hours") if forecast else None
    return plain.model_copy(update={"house": plain.house.model_copy(update={"forecast": source})})


def memory_of(celsius=(), at=None):
    """What is left of an earlier step."""
    return Memory(
        rooms={"study": RoomMemory()},
        heaters={COLUMN: HeaterMemory()},
        forecast=ForecastMemory(list(celsius), at),
    )


def known(told=(), memory=None, *, there=True):
    """What is forecast after a step in which this was told."""
    return read(house(there), memory or memory_of(), Observation(forecast=told), now_at()).forecast


@pytest.mark.parametrize(
    ("seconds", "celsius"),
    [(0.0, 3.0), (0.5 * HOUR, 2.0), (HOUR, -2.0), (1.5 * HOUR, -6.0), (9 * HOUR, -6.0), (-HOUR, 4.0)],
)
def test_between_its_hours_it_is_a_straight_line(seconds, celsius):
    """Told half an hour ago: 4, 2 and -6° stood half an hour ago, and in half an hour, and in one and a half."""
    assert Forecast(FRONT, 0.5 * HOUR).at(seconds) == pytest.approx(celsius)
    assert Forecast(FRONT, 0.5 * HOUR).left_seconds == 1.5 * HOUR


def test_a_new_one_takes_the_place_of_the_old():
    """From the moment at which it came."""
    memory = memory_of((9.0, 9.0), NOW - 60.0)
    assert known(FRONT, memory) == Forecast(FRONT, 0.0)
    assert (memory.forecast.celsius, memory.forecast.at) == ([4.0, 2.0, -6.0], NOW)


@pytest.mark.parametrize(
    "told",
    [(), (1.0,), (1.0,) * 241, (1.0, math.nan), (1.0, 60.1), (-60.1, 1.0), (1.0, True), (1.0, "2"), (1.0, None),
     (1, 10**400), "12", None, 5.0],
)  # fmt: skip
def test_one_that_makes_no_sense_leaves_the_old_one(told):
    """Whole or not at all."""
    assert known(told, memory_of(FRONT, NOW - 60.0)) == Forecast(FRONT, 60.0)
    assert known(told) is None


@pytest.mark.parametrize(
    ("hours", "age", "there"),
    [(24, LONGEST_SECONDS, True), (24, LONGEST_SECONDS + 1, False), (2, 2 * HOUR - 1, True), (2, 2 * HOUR, False),
     (2, -1.0, False)],
)  # fmt: skip
def test_it_serves_for_twelve_hours_or_until_its_last(hours, age, there):
    """Then it is dropped, and its place in the memory is empty."""
    memory = memory_of((1.0,) * (hours + 1), NOW - age)
    assert (known(memory=memory) is not None) is there
    assert bool(memory.forecast.celsius) is there


def test_a_day_of_it_is_kept():
    """Of ten days' hours the first 25 values: nobody plans further ahead than ten hours."""
    found = known(tuple(float(n % 50) for n in range(240)))
    assert found is not None
    assert found.celsius == tuple(float(n) for n in range(25))


def test_a_house_without_one_goes_by_none():
    """Whatever is told, and whatever is left in the memory."""
    memory = memory_of(FRONT, NOW)
    assert known(FRONT, memory, there=False) is None
    assert memory.forecast == ForecastMemory()


def test_it_outlives_a_restart_of_known_length_only():
    """It is in the memory as JSON; where the time down is unknown, so is its age."""
    plain = json.loads(json.dumps(to_plain(memory_of(FRONT, NOW))))
    assert from_plain(awaken(plain)).forecast == ForecastMemory([4.0, 2.0, -6.0], NOW)
    assert from_plain(awaken(plain, elapsed_known=False)).forecast == ForecastMemory()
    assert "forecast" not in to_plain(memory_of())


@given(
    st.lists(st.floats(-60, 60), min_size=2, max_size=240),
    st.floats(0, 2 * LONGEST_SECONDS),
    st.floats(0, 24 * HOUR),
)
def test_whatever_is_forecast_lies_within_what_was_told(celsius, age, seconds):
    """No hour, and no moment between two, is colder or warmer than all that was told."""
    found = known(memory=memory_of(celsius[:25], NOW - age))
    if found is not None:
        assert min(celsius) - 1e-9 <= found.at(seconds) <= max(celsius) + 1e-9
        assert found.left_seconds > 0.0
    else:
        assert age > LONGEST_SECONDS or age >= (len(celsius[:25]) - 1) * HOUR


def test_it_is_kept_in_tenths_and_for_a_day():
    """More than anyone plans ahead."""
    memory = memory_of()
    known((4.06, -2.24, *[1.0] * 40), memory)
    assert memory.forecast.celsius == [4.1, -2.2, *[1.0] * 23]


def test_the_coldest_and_the_warmest_that_outdoor_air_can_be_are_taken():
    """60 °C either way."""
    assert known((-60.0, 60.0)) == Forecast((-60.0, 60.0), 0.0)


@pytest.mark.parametrize("left", [((1.0, 2.0, 3.0), None), ((1.0,), NOW)])
def test_what_has_no_time_or_no_course_is_none(left):
    """As a damaged memory may have it."""
    assert known(memory=memory_of(*left)) is None
