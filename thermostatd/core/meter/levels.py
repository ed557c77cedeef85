"""The powers that a heater has, as its meter has shown them.

Rules: a level is a mean that follows slowly, since without volts the mains drifts by several per cent; one seen
once is known but not yet sure; the oldest goes when there are too many.
"""

from __future__ import annotations

from thermostatd.core.facts import MOST_LEVELS, HeaterFacts, LevelFact
from thermostatd.core.meter.power import near

SURE_COUNT = 3
MOST_WEIGHT = 50
MORE_SHARE = 1.05
FIRST_SPREAD_SHARE, LEAST_SPREAD_WATTS = 0.03, 1.0


def see(facts: HeaterFacts, watts: float, wall: float, exact: bool) -> LevelFact:
    """The heater is on a level of so many watts now."""
    level = min(facts.levels, key=lambda one: abs(one.watts - watts), default=None)
    if level is None or not near(level.watts, watts, exact):
        level = LevelFact(round(watts, 1), round(FIRST_SPREAD_SHARE * watts, 1), 1, float(round(wall)))
        facts.levels.append(level)
        if len(facts.levels) > MOST_LEVELS:
            facts.levels.remove(min(facts.levels[:-1], key=lambda one: one.seen_wall))
    else:
        _blend(level, watts, wall)
    facts.level_watts = level.watts
    return level


def sure(facts: HeaterFacts) -> list[float]:
    """The levels seen often enough to be believed, W, lowest first."""
    return sorted(level.watts for level in facts.levels if level.count >= SURE_COUNT)


def set_anew(facts: HeaterFacts, watts: float) -> None:
    """The file or the owner says that it is set to so many watts. If that is more than before, no level is sure any
    more: what it may draw was never seen."""
    if facts.set_watts is not None and watts > MORE_SHARE * facts.set_watts:
        for level in facts.levels:
            level.count = min(level.count, SURE_COUNT - 1)
    facts.set_watts = watts


def _blend(level: LevelFact, watts: float, wall: float) -> None:
    share = 1.0 / min(level.count + 1, MOST_WEIGHT)
    off = watts - level.watts
    variance = (1.0 - share) * (level.spread_watts**2 + share * off * off)
    level.watts = round(level.watts + share * off, 1)
    level.spread_watts = round(max(variance**0.5, LEAST_SPREAD_WATTS), 1)
    level.count, level.seen_wall = level.count + 1, float(round(wall))
