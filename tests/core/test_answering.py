"""What ordinary switchings tell, on air made with a known gain beside weather, sun and a sensor's steps."""

from math import exp, pi, sin
from random import Random

import pytest

from thermostatd.core.guard.no_answer import answering

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


def test_air_that_ceases_to_answer_is_doubted_within_hours():
    """Carried away, the heater's next switchings speak against it; a rest that is answered takes that back."""
    rng, notes, warm, air, on, left, doubted = Random(7), {}, 0.0, 20.0, False, 0, None
    for minute in range(60 * 36):
        if left <= 0:
            on, left = not on, rng.randrange(8, 40)
        left -= 1
        gain = GAIN if minute < 60 * 24 else 0.0
        warm += (on - warm) * (1.0 - exp(-60.0 / 1200.0))
        air += (gain * warm + 0.25 * sin(2 * pi * minute / 1440.0) - 0.5 * gain) / 60.0
        answering.watch(notes, round(air + rng.gauss(0.0, 0.03), 1), on, 60.0 * minute, 60.0)
        if minute % 30 == 0:
            answering.answers(notes, 0.45, 60.0 * minute)
        if doubted is None and answering.doubts(notes):
            doubted = minute / 60.0
    assert doubted is not None
    assert 24.0 < doubted < 30.0
    answering.believe(notes)
    assert not answering.doubts(notes)


@pytest.mark.parametrize("seed", range(6))
def test_air_that_answers_is_never_doubted(seed):
    """Two days of one gain under weather and steps: what speaks against it never adds up."""
    rng, notes, warm, air, on, left = Random(seed), {}, 0.0, 20.0, False, 0
    for minute in range(60 * 48):
        if left <= 0:
            on, left = not on, rng.randrange(8, 40)
        left -= 1
        warm += (on - warm) * (1.0 - exp(-60.0 / 1200.0))
        air += (GAIN * warm + 0.25 * sin(2 * pi * minute / 1440.0) - 0.5 * GAIN) / 60.0
        answering.watch(notes, round(air + rng.gauss(0.0, 0.03), 1), on, 60.0 * minute, 60.0)
        answering.answers(notes, 0.45, 60.0 * minute)
        assert not answering.doubts(notes)
