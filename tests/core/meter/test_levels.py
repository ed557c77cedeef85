"""The levels a heater is known to have."""

from random import Random

import pytest

from thermostatd.core.facts import MOST_LEVELS, HeaterFacts, LevelFact
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


def test_a_new_level_is_unsure_by_three_per_cent():
    """To a tenth of a watt, and to a second."""
    facts = HeaterFacts()
    levels.see(facts, 601.26, 5000.4, True)
    assert facts.levels == [LevelFact(601.3, 18.0, 1, 5000.0)]
    levels.see(facts, 211.0, 5000.4, True)
    assert facts.levels[1] == LevelFact(211.0, 6.3, 1, 5000.0)


@pytest.mark.parametrize(
    ("known", "watts", "then"),
    [
        (LevelFact(600.0, 18.0, 1), 606.0, LevelFact(603.0, 13.1, 2, 5000.0)),  # half of 18² + half of 6² W²
        (LevelFact(600.0, 18.0, 2), 607.0, LevelFact(602.3, 15.1, 3, 5000.0)),
        (LevelFact(600.0, 10.0, 99), 640.0, LevelFact(600.8, 11.4, 100, 5000.0)),
        (LevelFact(600.0, 1.0, 99), 600.0, LevelFact(600.0, 1.0, 100, 5000.0)),
    ],
)
def test_a_level_that_is_known_follows_as_a_mean(known, watts, then):
    """Of all that was seen, and of fifty at most; its spread is never under a watt."""
    facts = HeaterFacts(levels=[known])
    assert levels.see(facts, watts, 5000.4, True) == then
    assert facts.level_watts == then.watts


@pytest.mark.parametrize(("exact", "count"), [(True, 2), (False, 1)])
def test_a_tenth_off_is_another_level_only_with_volts(exact, count):
    """Without, it may be the mains."""
    facts = HeaterFacts(levels=[LevelFact(1500.0, 9.0)])
    levels.see(facts, 1370.0, 5000.0, exact)
    assert len(facts.levels) == count


def test_the_third_sight_makes_it_sure():
    """Lowest first."""
    facts = HeaterFacts(levels=[LevelFact(900.0, 9.0, 3), LevelFact(600.0, 9.0, 4), LevelFact(300.0, 9.0, 2)])
    assert levels.sure(facts) == [600.0, 900.0]


@pytest.mark.parametrize("oldest", [0, MOST_LEVELS - 1])
def test_the_one_that_is_new_stays(oldest):
    """Whatever its time says, the oldest of those before goes."""
    known = [LevelFact(300.0 * 1.3**n, 9.0, 1, 100.0 - (n == oldest)) for n in range(MOST_LEVELS)]
    facts = HeaterFacts(levels=list(known))
    new = levels.see(facts, 3000.0, 1.0, True)
    assert facts.levels == [*(one for n, one in enumerate(known) if n != oldest), new]
