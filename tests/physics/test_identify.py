"""Learning a first-order room from its own record."""

import math
import random

import pytest

from tests.stories.teller import Plant, Story, study
from thermostatd.core.asking import NO_END
from thermostatd.core.demand import proportional
from thermostatd.core.learning import History, fit
from thermostatd.physics.identify import first_order, least_squares

STEP = 300.0


def record(gain=28.0, tau=5.0 * 3600, lag=0, steps=800, noise=0.0, seed=1):
    """Air, outdoor and share of a room with known constants, exactly stepped, under an uneven on/off heat."""
    dice = random.Random(seed)
    air, outdoor, share = [18.0], [], []
    on = 1.0
    for k in range(steps):
        if dice.random() < 0.15:
            on = 1.0 - on
        outdoor.append(3.0 + 4.0 * math.sin(2 * math.pi * k * STEP / 86400))
        share.append(on)
        acting = share[max(0, k - lag)]
        end = outdoor[-1] + gain * acting
        air.append(end + (air[-1] - end) * math.exp(-STEP / tau))
    return [celsius + dice.gauss(0.0, noise) for celsius in air[:-1]], outdoor, share


@pytest.mark.parametrize(("gain", "hours"), [(15.0, 2.0), (28.0, 5.0), (40.0, 20.0), (60.0, 60.0)])
@pytest.mark.parametrize("lag", [0, 2, 5])
def test_known_constants_come_back(gain, hours, lag):
    """From clean data the gain, the time constant and the dead time come back: 1 %, 3 %, exactly (derived)."""
    learned = first_order(*record(gain, hours * 3600, lag), STEP)
    assert learned.gain_kelvin == pytest.approx(gain, rel=0.01)
    assert learned.tau_seconds == pytest.approx(hours * 3600, rel=0.03)
    assert learned.dead_seconds == max(lag * STEP, STEP / 2)
    assert learned.residual_kelvin < 0.01


def test_noise_of_a_sensor_is_borne():
    """With 0.02 K of noise on five-minute means the constants come back within a quarter."""
    learned = first_order(*record(noise=0.02, steps=1600), STEP)
    assert learned.gain_kelvin == pytest.approx(28.0, rel=0.1)
    assert learned.tau_seconds == pytest.approx(5 * 3600, rel=0.25)


@pytest.mark.parametrize("seed", range(5))
def test_least_squares_agrees_with_a_reference_library(seed):
    """The same coefficients as numpy.linalg.lstsq, to nine digits."""
    numpy = pytest.importorskip("numpy")
    dice = random.Random(seed)
    rows = [(dice.uniform(-20, 5), dice.choice((0.0, 1.0)), 1.0) for _ in range(400)]
    values = [0.016 * a + 0.4 * b - 0.01 + dice.gauss(0, 0.02) for a, b, _ in rows]
    ours = least_squares(rows, values)
    theirs = numpy.linalg.lstsq(numpy.array(rows), numpy.array(values), rcond=None)[0]
    assert ours == pytest.approx(tuple(theirs), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("rows", [[], [(1.0, 1.0, 1.0)] * 50, [(0.0, 1.0, 1.0), (0.0, 0.0, 1.0)] * 50])
def test_what_is_not_determined_is_not_answered(rows):
    """No rows, or rows that say the same thing twice, have no answer."""
    assert least_squares(rows, [1.0] * len(rows)) is None


@pytest.mark.parametrize("spoil", [
    lambda air, outdoor, share: (air[:100], outdoor[:100], share[:100]),
    lambda air, outdoor, share: (air, outdoor, [0.0] * len(share)),
    lambda air, outdoor, share: (air, outdoor, [1.0] * len(share)),
    lambda air, outdoor, share: ([20.0] * len(air), outdoor, share),
    lambda air, outdoor, share: (air[::-1], outdoor[::-1], share[::-1]),
])
def test_a_record_that_does_not_tell_says_nothing(spoil):
    """Too short, never or always heated, frozen, or run backwards: no model rather than a wrong one."""
    assert first_order(*spoil(*record()), STEP) is None


def test_a_day_of_a_story_teaches_the_room_and_control_uses_it():
    """History, fit and adopt: the room's own constants, and another tuning than the safe one."""
    story = Story(study(room='control = "proportional"'), tick=30.0)
    story.outdoor = 2.0
    body = story.air["study"] = Plant(celsius=16.0, outdoor=2.0, rise=26.0, tau=6 * 3600.0, dead=600.0)
    history = story.history = History(story.house)
    for target in (21.0, 18.0, 21.0, 18.0):
        story.ask(target, NO_END)
        story.run(hours=9)
    model = fit(story.house, history)["study"]
    assert model["gain_kelvin"] == pytest.approx(26.0, rel=0.1)
    assert model["tau_seconds"] == pytest.approx(6 * 3600.0, rel=0.15)
    assert 300 <= model["dead_seconds"] <= 900
    before = proportional.tuning(None)
    story.regulator.adopt({"study": model})
    assert proportional.tuning(story.regulator.memory["models"]["study"]) != before
    twin = Story(study(room='control = "proportional"'), tick=30.0)
    for each in (story, twin):
        each.regulator._memory.rooms["study"].demand.clear()
        each.regulator._memory.rooms["study"].request = None
        each.run(2, study=19.0)
    assert story.result.rooms["study"].demand.share != twin.result.rooms["study"].demand.share
    assert body.celsius > 10.0
