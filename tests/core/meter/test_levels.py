"""The levels a heater is known to have."""

from random import Random

import pytest

from thermostatd.core.facts import MOST_LEVELS, HeaterFacts
from thermostatd.core.meter import levels


def test_levels_are_told_apart_and_known_once_seen_thrice():
    """Three settings seen many times in steps of 10 W are three levels, close to the truth, with a small spread."""
    facts, rng = HeaterFacts(), Random(3)
    for n in range(300):
        watts = round(rng.choice((588, 812, 1400)) * rng.uniform(0.99, 1.01), -1)
        levels.see(facts, watts, 1000.0 + n, True)
    assert levels.sure(facts) == pytest.approx([588, 812, 1400], rel=0.012)
    assert all(level.spread_watts < 0.02 * level.watts for level in facts.levels)


def test_one_sight_is_not_yet_sure():
    """It says when it does not know yet."""
    facts = HeaterFacts()
    assert facts.level_watts is None
    levels.see(facts, 600.0, 1.0, True)
    assert (facts.level_watts, levels.sure(facts)) == (600.0, [])


def test_the_oldest_level_goes():
    """There is room for a few levels only; what was not seen for longest is forgotten."""
    facts = HeaterFacts()
    for n in range(MOST_LEVELS + 3):
        levels.see(facts, 300.0 * 1.3**n, float(n), True)
    assert len(facts.levels) == MOST_LEVELS
    assert min(level.seen_wall for level in facts.levels) == 3
