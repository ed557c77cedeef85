"""What ordinary switchings tell, on air made with a known gain beside weather, sun and a sensor's steps."""

from math import exp, pi, sin
from random import Random

import pytest

from thermostatd.core.guard import answering

GAIN = 2.0  # K/h of a heater that is on


def watched(gain: float, hours: float, *, step: float = 0.1, seed: int = 1) -> dict:
    """The notes after hours of a heater that runs at random under a slow day; derived, no outside source."""
    rng, notes, warm, air, on, left = Random(seed), {}, 0.0, 20.0, False, 0
    for minute in range(int(60 * hours)):
        if left <= 0:
            on, left = not on, rng.randrange(8, 40)
        left -= 1
        warm += (on - warm) * (1.0 - exp(-60.0 / 1200.0))
        slow = 0.25 * sin(2 * pi * minute / 1440.0) - 0.5 * gain
        air += (gain * warm + slow) / 60.0
        told = round((air + rng.gauss(0.0, 0.03)) / step) * step
        answering.watch(notes, told, on, 60.0 * minute, 60.0)
    return notes


@pytest.mark.parametrize("step", [0.1, 0.5])
def test_a_known_gain_is_found_under_weather_and_steps(step):
    """The gain of the model that made the air comes back within 15 % (35 % where the sensor's steps are coarse)."""
    gain, error = answering.slope_of(watched(GAIN, 24, step=step)["cycles"]["sums"])
    assert gain == pytest.approx(GAIN, rel=0.15 if step < 0.25 else 0.35)
    assert error < gain / answering.ERRORS


@pytest.mark.parametrize("seed", range(6))
def test_air_that_no_heater_moves_is_no_answer(seed):
    """A heater that runs elsewhere is never taken for one that warms this room."""
    notes = watched(0.0, 24, seed=seed)
    assert not answering.answers(notes, 0.45, 24 * 3600.0)


def test_an_old_switching_is_no_news():
    """An hour after the last switching, what was seen before says nothing of now."""
    notes = watched(GAIN, 24)
    at = notes["cycles"]["changed"]
    assert answering.answers(notes, 0.45, at + 60.0)
    assert not answering.answers(notes, 0.45, at + answering.FRESH_SECONDS + 60.0)
