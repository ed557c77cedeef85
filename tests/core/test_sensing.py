"""What a sensor's own messages teach of how it speaks: by the clock, or once its value has moved. Invented."""

import pytest

from thermostatd.core.memory import AirMemory
from thermostatd.core.sensing import learn, stale_seconds


def heard(messages, **known):
    """What is known of a sensor after its messages, each so many seconds after the last one and a value in °C."""
    kept = AirMemory(**{"celsius": 20.0, "at": 0.0, "heard": True} | known)
    for gap, celsius in messages:
        at = (kept.at or 0.0) + gap
        learn(kept, celsius, at)
        kept.celsius, kept.at = celsius, at
    return kept


@pytest.mark.parametrize(
    ("gap", "celsius", "after"),
    [
        (100.0, 20.0, 1145.0),
        (100.0, 20.04, 1145.0),
        (600.0, 20.1, 1194.0),
        (600.0, 19.5, 1194.0),
        (100.0, 20.1, 1198.9),
    ],
)
def test_a_value_that_moved_may_have_come_before_its_time(gap, celsius, after):
    """It says little of how long its sensor is silent in steady air: a hundredth of the way down, or a thousandth
    where it is known to speak on change."""
    assert heard([(gap, celsius)], interval=1200.0).interval == pytest.approx(after)


@pytest.mark.parametrize(("interval", "seconds"), [(100.0, 600.0), (1000.0, 3500.0), (1200.0, 3900.0)])
def test_a_sensor_that_speaks_on_change_may_be_silent_for_its_hour_and_a_little_more(interval, seconds):
    """Many speak once an hour at least, by a clock of their own."""
    assert stale_seconds(AirMemory(interval=interval, change=0.2), None) == seconds
    assert stale_seconds(AirMemory(interval=interval, change=0.2), 5.0) == 5.0


def test_a_sensor_that_speaks_on_change_is_not_missed_in_steady_air_after_a_rise():
    """It said forty values in an hour and a half of warming up; then nothing until its own hour is over."""
    rise = [(130.0, round(17.0 + 0.1 * place, 1)) for place in range(1, 41)]
    assert stale_seconds(heard(rise, celsius=17.0, interval=1200.0), None) > 3700.0


def test_a_sensor_that_speaks_each_minute_is_missed_after_ten():
    """Three quarters of an hour teach so, in steady air and in moving air."""
    still = [(60.0, 20.0 + 0.1 * (place % 5 == 0)) for place in range(45)]
    assert stale_seconds(heard(still), None) == 600.0


@pytest.mark.parametrize(
    ("messages", "change"),
    [
        ([], 0.0),
        ([(599.0, 20.3)], 0.3),
        ([(600.0, 20.3)], 0.0),
        ([(599.0, 20.0)], 0.0),
        ([(599.0, 25.0)], 1.0),
        ([(500.0, 20.4), (500.0, 20.6)], 0.4 + 0.3 * (0.2 - 0.4)),
        ([(500.0, 20.2), (500.0, 20.6)], 0.2 + 0.02 * (0.4 - 0.2)),
        ([(500.0, 20.3), (500.0, 20.3)], 0.0),
        ([(500.0, 20.3), (1200.0, 20.3)], 0.3),
        ([(500.0, 20.3), (1200.0, 20.4)], 0.3),
    ],
)
def test_what_it_takes_to_speak_before_its_time_is_learned(messages, change):
    """By what moved long before the interval was over; a value repeated so soon comes by the clock."""
    assert heard(messages, interval=1200.0).change == pytest.approx(change)


def test_a_start_teaches_neither_interval_nor_change():
    """How long nothing was heard before a start is not the sensor's silence."""
    kept = heard([(5.0, 20.5)], heard=False, interval=1200.0)
    assert (kept.interval, kept.change) == (1200.0, 0.0)
