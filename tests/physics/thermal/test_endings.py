"""The last switchings before a fall in target, and what a usual day brings."""

import itertools

import numpy as np
import pytest

from tests.physics.thermal.rooms import KNOWN, WATTS, record, values
from thermostatd.physics.thermal.endings import NEVER, ways
from thermostatd.physics.thermal.learned import outdoors
from thermostatd.physics.thermal.model import FREE, OUTDOOR, SIZE, discrete
from thermostatd.physics.thermal.plans import Usual, plans_of

LEAST_ON, LEAST_OFF = 5, 8


@pytest.mark.parametrize(("on_now", "ahead"), list(itertools.product([True, False], [0, 3, 17, 60, 130])))
def test_every_way_ends_off_in_time_and_keeps_minimum_times(on_now, ahead):
    """By the fall the heater is off for good, and no run or pause in between is shorter than it may be."""
    table = ways(on_now, ahead, LEAST_ON, LEAST_OFF)
    assert len(table)
    for way in table.tolist():
        real = [minute for minute in way if minute != NEVER]
        assert len(real) % 2 == on_now
        assert all(0 <= minute <= ahead for minute in real)
        turned_on = [not on_now if place % 2 == 0 else on_now for place in range(len(real))]
        for place, (before, after) in enumerate(itertools.pairwise(real)):
            assert after - before >= (LEAST_ON if turned_on[place] else LEAST_OFF)


@pytest.mark.parametrize("on_now", [True, False])
def test_the_cheapest_way_is_the_cheapest_of_all(on_now):
    """Each way lived through minute by minute: none costs less than the one that is chosen."""
    plans = plans_of(KNOWN, WATTS, 0.1, LEAST_ON, LEAST_OFF, 0.3)
    state, inputs = np.array([300.0, 20.1, 19.2, 20.1, 0.0, 0.0]), np.array([0.0, -2.0, 20.0, 0.0])
    near, ahead = plans.near, 40
    weights = plans.search.weights
    off = near.free(state, inputs) - 20.0
    switch, answer = plans.endings.best(off, on_now, WATTS, 0.3, 0.0, float(ahead))

    def lived(way):
        now, on, air = state.copy(), on_now, []
        for minute in range(plans.horizon):
            on = (not on) if minute in way else on
            now = plans.a @ now + plans.b @ np.array([WATTS * on, *inputs[1:]])
            air.append(now[1])
        return np.array(air)[np.array(near.minutes, dtype=int) - 1]

    costs = []
    for way in ways(on_now, ahead, LEAST_ON, LEAST_OFF).tolist():
        real = [minute for minute in way if minute != NEVER]
        costs.append((float((lived(real) - 20.0) ** 2 @ weights) + 0.3 * len(real), real))
    best = min(costs)
    assert lived(best[1]) == pytest.approx(near.free(state, inputs) + WATTS * answer, abs=1e-6)
    assert switch == (best[1][:1] == [0])


def test_what_may_not_be_switched_yet_is_not():
    """A heater that was just turned on stays on for its minimum time, however warm it is."""
    plans = plans_of(KNOWN, WATTS, 0.1, LEAST_ON, LEAST_OFF, 0.3)
    warm = np.full(len(plans.near.minutes), 2.0)
    assert plans.endings.best(warm, True, WATTS, 0.3, 0.0, 30.0)[0]
    assert not plans.endings.best(warm, True, WATTS, 0.3, 3.0, 30.0)[0]
    assert not plans.endings.best(warm, True, WATTS, 0.3, 4.0, 1.0)[0]


def test_the_outdoor_air_of_a_usual_day_is_found():
    """A sine of 3 K comes back as one, drawn towards nothing by as much as four days leave it in doubt."""
    found = np.array(outdoors(record(4)))
    hours = np.arange(24) + 0.5
    assert found == pytest.approx(4.0 / 5.5 * 3.0 * np.sin(2 * np.pi * hours / 24.0), abs=0.1)
    assert outdoors(record(1)) == []
    assert outdoors(record(4, outdoor_known=False)) == []


@pytest.mark.parametrize("given", [FREE, OUTDOOR])
def test_what_a_usual_day_brings_is_what_the_model_answers(given):
    """The sum of the answers to each stretch is the model stepped minute by minute."""
    a, b = discrete(values()[:8])
    every, count = 10, 30
    usual = Usual.of(a, b, every, count)
    brought = np.random.default_rng(3).normal(size=count)
    state, air = np.zeros(SIZE), []
    for minute in range(every * count):
        inputs = np.zeros(4)
        inputs[given] = brought[minute // every]
        state = a @ state + b @ inputs
        air.append(state[1])
    answers = usual.gift if given == FREE else usual.outdoors
    assert answers @ brought == pytest.approx(np.array(air)[every - 1 :: every], abs=1e-9)
